"""What a spirit run comes to: its charge and the share of feints, the spirits account, cuts beside their plan, what is
recovered, and how the receivers stand afterwards.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from batches.sheets.completed import Completed
from batches.steps.shared.site_figures import set_figure
from batches.steps.shared.still_charges import (
    Flow,
    day_of,
    end_strength,
    fill,
    gauged,
    gave,
    recovery,
    residue,
    took,
    worked_out,
)
from distillery import figures
from distillery.pages import LOOK, OUT, Fact
from distillery.process import distilling
from distillery.process.recycling import Shares

CUTS = (("Spirit on", "cut_on_percent", "plan_on_percent"), ("Spirit off", "cut_off_percent", "plan_off_percent"))


def results(written: Completed, now: datetime) -> list[Fact]:
    """What can be worked out of a spirit run so far."""
    return worked_out(
        (
            lambda: _charge(written),
            lambda: fill(written, _charged(written)),
            lambda: _remnant(written),
            lambda: _account(written),
            lambda: _cuts(written),
            lambda: _foreshots(written),
            lambda: _feints(written),
            lambda: _lees(written),
            lambda: _shares(written),
            lambda: recovery(written, _charged(written), _spirit(written) + _kept(written)),
            lambda: end_strength(written, "distillate_percent"),
        )
    )


def _parts(written: Completed) -> tuple[Flow, Flow]:
    return gave(written, "low_wines_before", "low_wines_after"), gave(written, "feints_before", "feints_after")


def _charged(written: Completed) -> Flow:
    low_wines, feints = _parts(written)
    return low_wines + feints


def _spirit(written: Completed) -> Flow:
    return took(written, "spirit_receiver", "spirit_before", "spirit_after")


def _kept(written: Completed) -> Flow:
    return took(written, "feints_receiver", "feints_receiver_before", "feints_receiver_after")


def _charge(written: Completed) -> Iterable[Fact]:
    parts = _parts(written)
    low_wines, feints = parts
    charged = low_wines + feints
    percent = distilling.charge_percent([one.part for one in parts])
    most = set_figure("strength of a spirit charge", day_of(written))
    strong = percent >= most
    note = f"{figures.litres(charged.litres, 0)} L, {figures.number(charged.lpa, 1)} LPA"
    if strong:
        note += f"; not under {figures.percent(most)} %: oils do not part, and the cut cannot be judged"
    yield Fact("Charge", figures.percent(percent, 2), "% vol", note=note, state=OUT if strong else None)
    share = distilling.percent_of(feints.lpa, charged.lpa, what="Feints")
    yield Fact(
        "Feints of the charge",
        figures.percent(share),
        "%",
        note=f"{figures.number(feints.lpa, 1)} of {figures.number(charged.lpa, 1)} LPA; "
        f"by volume {figures.percent(100.0 * feints.litres / charged.litres)} %",
    )


def _remnant(written: Completed) -> Iterable[Fact]:
    held = gauged(written, "spirit_before")
    code = written.vessel("spirit_receiver").code
    if not held.pure_ul:
        yield Fact("Remnant before collection", "none", note=f"{code} was empty")
        return
    yield Fact(
        "Remnant before collection",
        figures.lpa(held.pure_ul, 1),
        "LPA",
        note=f"{figures.litres(held.litres20, 0)} L at {figures.percent(held.percent20)} % vol in {code}",
    )


def _account(written: Completed) -> Iterable[Fact]:
    came = _spirit(written)
    yield Fact(
        "Spirits account",
        figures.number(came.lpa, 1),
        "LPA",
        note="gauge after collection less the remnant (HMRC Spirits Production Manual SPIR4130)",
    )
    yield Fact(
        "Average of the cut",
        figures.percent(came.percent, 2),
        "% vol",
        note=f"{figures.litres(came.litres, 0)} L, "
        f"{figures.percent(100.0 * came.litres / _charged(written).litres)} % of the charge's volume",
    )


def _cuts(written: Completed) -> Iterable[Fact]:
    """Cuts beside their plan, where both are written."""
    most = set_figure("strength of a cut beside its plan", day_of(written))
    for label, made, planned in CUTS:
        if written.has(made) and written.has(planned):
            off = written.real(made) - written.real(planned)
            far = abs(off) > most
            yield Fact(
                f"{label} beside its plan",
                figures.number(off, 1, figures.SIGNED),
                "% vol",
                note=f"planned {figures.percent(written.real(planned))}; "
                f"{'further off than' if far else 'within'} {figures.percent(most)}",
                state=LOOK if far else None,
            )


def _foreshots(written: Completed) -> Iterable[Fact]:
    ran = residue(written, "foreshots_litres", "foreshots_percent")
    if ran is None:
        return
    share = 100.0 * ran.litres / _charged(written).litres
    yield Fact(
        "Foreshots",
        figures.number(ran.lpa, 1),
        "LPA",
        note=f"{figures.percent(share)} % of the charge's volume; they stand in the feints receiver's gauge",
    )


def _feints(written: Completed) -> Iterable[Fact]:
    before, after = gauged(written, "feints_before"), gauged(written, "feints_receiver_after")
    code = written.vessel("feints_receiver").code
    if written.sheet.has_field("feints_receiver_changed_at") and written.has("feints_receiver_changed_at"):
        return
    kept = _kept(written)
    yield Fact(
        "Foreshots and feints kept",
        figures.number(kept.lpa, 1),
        "LPA",
        note=f"{figures.litres(kept.litres, 0)} L at {figures.percent(kept.percent)} % vol; {code} from "
        f"{figures.lpa(before.pure_ul, 1)} to {figures.lpa(after.pure_ul, 1)} LPA, "
        f"{figures.number(after.lpa - before.lpa, 1, figures.SIGNED)} over the run",
    )


def _lees(written: Completed) -> Iterable[Fact]:
    left = residue(written, "spent_lees_litres", "spent_lees_percent")
    if left is None:
        return
    share = distilling.percent_of(left.litres, _charged(written).litres, what="Spent lees")
    most = set_figure("strength of spent lees, most", day_of(written))
    strong = left.percent > most
    note = f"{figures.number(left.lpa, 2)} LPA at {figures.percent(left.percent, 2)} % vol"
    if strong:
        note += f"; above {figures.percent(most)} %: run on longer, or read again"
    yield Fact("Spent lees of the charge", figures.percent(share), "%", note=note, state=LOOK if strong else None)


def _shares(written: Completed) -> Iterable[Fact]:
    shares = Shares.of_a_run(
        charged_lpa=_charged(written).lpa, spirit_lpa=_spirit(written).lpa, recycled_lpa=_kept(written).lpa
    )
    yield Fact(
        "Shares of the charge",
        " / ".join(figures.percent(100.0 * one) for one in (shares.spirit, shares.recycled, shares.lost)),
        "%",
        note="of its pure alcohol: spirit, foreshots and feints, lees and loss",
    )
