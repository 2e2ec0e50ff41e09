"""What a wash run comes to: which charge of its washback it is, low wines, pot ale, and what is recovered."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from batches.models import Mention, Record, State
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
from distillery.pages import LOOK, Fact
from distillery.plant.models import MICRO
from distillery.process import distilling
from ledger.models import Gauge


def results(written: Completed, now: datetime) -> list[Fact]:
    """What can be worked out of a wash run so far."""
    return worked_out(
        (
            lambda: _charge(written),
            lambda: fill(written, _charged(written)),
            lambda: _washback(written),
            lambda: _low_wines(written),
            lambda: _pot_ale(written),
            lambda: recovery(written, _charged(written), _came(written)),
            lambda: end_strength(written, "low_wines_percent"),
        )
    )


def _charged(written: Completed) -> Flow:
    return gave(written, "washback_before", "washback_after", at=written.moment("charged_at"))


def _came(written: Completed) -> Flow:
    return took(written, "receiver", "receiver_before", "receiver_after")


def _charge(written: Completed) -> Iterable[Fact]:
    charged, number = _charged(written), len(_earlier(written)) + 1
    yield Fact(
        "Charge",
        figures.litres(charged.litres, 0),
        "L",
        note=f"charge {number} of {written.record('fermentation').number}, {figures.number(charged.lpa, 1)} LPA at "
        f"{figures.percent(charged.percent, 2)} % vol",
    )


def _washback(written: Completed) -> Iterable[Fact]:
    """What is left in the washback and, once it is charged wholly, the sum of its charges beside what was set."""
    at = written.moment("charged_at")
    left = gauged(written, "washback_after", at=at).litres20
    yield Fact("Left in the washback", figures.litres(left, 0), "L")
    earlier = _earlier(written)
    held = _litres_of([record.number for record in earlier], ("washback_before", "washback_after", "final"))
    declared = _litres_of([written.record("fermentation").number], ("final",))
    set_volume = declared.get((written.record("fermentation").number, "final"))
    if not set_volume:
        return
    charges = 0.0
    for place, record in enumerate(earlier):
        # Where the first charge was not gauged again, the washback held what was declared.
        before = held.get((record.number, "washback_before"), None if place else set_volume)
        after = held.get((record.number, "washback_after"))
        if before is None or after is None:
            return
        charges += before - after
    total = charges + _charged(written).litres + left
    off = 100.0 * (total - set_volume) / set_volume
    most = set_figure("charges beside the set volume", day_of(written))
    yield Fact(
        "Charges and rest beside the set volume",
        figures.number(off, 2, figures.SIGNED),
        "%",
        note=f"{figures.litres(total, 0)} of {figures.litres(set_volume, 0)} L; usual within {figures.percent(most)} %",
        state=LOOK if abs(off) > most else None,
    )


def _low_wines(written: Completed) -> Iterable[Fact]:
    came = _came(written)
    yield Fact(
        "Low wines",
        figures.litres(came.litres, 0),
        "L",
        note=f"{figures.number(came.lpa, 1)} LPA, on average {figures.percent(came.percent)} % vol",
    )


def _pot_ale(written: Completed) -> Iterable[Fact]:
    left = residue(written, "pot_ale_litres", "pot_ale_percent")
    if left is None:
        return
    charged = _charged(written)
    share = distilling.percent_of(left.litres, charged.litres, what="Pot ale")
    kept = distilling.unavoidable_pot_ale_loss_percent(pot_ale=left.part, charged_lpa=charged.lpa)
    yield Fact(
        "Pot ale of the charge", figures.percent(share), "%", note=f"keeps {figures.percent(kept, 2)} % of its alcohol"
    )
    gone = 100.0 * (charged.litres - _came(written).litres - left.litres) / charged.litres
    most = set_figure("volumes of a wash run beside its charge", day_of(written))
    yield Fact(
        "Litres not found again",
        figures.number(gone, 1, figures.SIGNED),
        "%",
        note="of the charge; more is carry-over, a leak or a wrong dip" if abs(gone) > most else "of the charge",
        state=LOOK if abs(gone) > most else None,
    )


def _earlier(written: Completed) -> list[Record]:
    """The other runs of the same fermentation that were charged before this one, in order."""
    found = Record.objects.filter(
        kind=written.sheet.kind,
        mentions__what=Mention.What.RECORD,
        mentions__field="fermentation",
        mentions__code=written.record("fermentation").number,
        happened_from__lt=written.moment("charged_at"),
    )
    return list(found.exclude(state=State.VOID).exclude(number=written.number).order_by("happened_from", "pk"))


def _litres_of(numbers: list[str], names: tuple[str, ...]) -> dict[tuple[str, str], float]:
    """Litres at 20 °C of gauges that stand, by number of the record and name of the gauge."""
    rows = (
        Gauge.objects.standing()
        .filter(movement__record_number__in=numbers, name__in=names)
        .values_list("movement__record_number", "name", "litres20_ul")
    )
    return {(number, name): litres / MICRO for number, name, litres in rows}
