"""What several stills say of a charge: how full it is, what came of it, what its balance can tell.

Sums are those of `distillery.process.distilling`, thresholds the site's own of the day. What a reading is missing for
is left out, and nothing of it is posted.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Final

from django.urls import reverse

from batches.distilling.periods import all_periods
from batches.sheets.typed.completed import Completed
from batches.sheets.typed.values import Ungaugeable
from batches.steps.shared.site_figures import row_of, set_figure
from distillery import figures
from distillery.alcoholometry.errors import AlcoholometryError
from distillery.alcoholometry.quantity import Quantity
from distillery.clock.reading import site_day
from distillery.pages import LOOK, OUT, Fact
from distillery.plant.models import MICRO
from distillery.process import distilling
from distillery.process.distilling import COVERAGE_FACTOR, Part, Said
from distillery.rules.in_force import NoRuleInForce

STATES: Final = {Said.USUAL: None, Said.AMBER: LOOK, Said.RED: OUT}


@dataclass(frozen=True, slots=True)
class Flow:
    """What went into a vessel or came out of it, positive: litres at 20 °C and litres of pure alcohol."""

    litres: float
    lpa: float

    @property
    def percent(self) -> float:
        """Its strength, % vol; 0 of nothing."""
        return 100.0 * self.lpa / self.litres if self.litres else 0.0

    @property
    def part(self) -> Part:
        """The same for the sums of a charge. A gauge that fell where it should have risen is no part of anything."""
        return Part(self.litres, self.percent)

    def __add__(self, other: Flow) -> Flow:
        return Flow(self.litres + other.litres, self.lpa + other.lpa)


def gauged(written: Completed, prefix: str, *, at: datetime | None = None) -> Quantity:
    """What a gauge says its vessel holds. Raises Ungaugeable where it is not written yet, or cannot be worked out."""
    dip = written.gauge(prefix).name("dip_mm")
    if not (written.shares(prefix) or written.has(dip)):
        raise Ungaugeable(dip, f"{written.sheet.gauge(prefix).label} is not written yet.")
    return written.quantity(prefix, at=at)


def gave(written: Completed, before: str, after: str, *, at: datetime | None = None) -> Flow:
    """What a vessel gave between two gauges. Raises Ungaugeable where one of them is not there."""
    first, last = gauged(written, before, at=at), gauged(written, after, at=at)
    return Flow(first.litres20 - last.litres20, first.lpa - last.lpa)


def took(written: Completed, receiver: str, before: str, after: str) -> Flow:
    """What ran into a receiver during a run, or into it and the one that took its place. Raises Ungaugeable."""
    changed, following = f"{receiver}_changed_at", f"next_{receiver}"
    if not (written.sheet.has_field(changed) and written.has(changed)):
        given = gave(written, before, after)
        return Flow(-given.litres, -given.lpa)
    first, second = gave(written, before, f"{receiver}_filled"), gave(written, f"{following}_before", after)
    return Flow(-first.litres - second.litres, -first.lpa - second.lpa)


def residue(written: Completed, litres: str, percent: str) -> Flow | None:
    """Pot ale or spent lees; None where either is not written."""
    if not (written.has(litres) and written.has(percent)):
        return None
    volume = written.real(litres)
    return Flow(volume, volume * written.real(percent) / 100.0)


def day_of(written: Completed) -> date:
    """The day whose figures a run is held to: that of its charge."""
    return site_day(written.moment(written.sheet.moments[0].when))


Worked = Callable[[], Iterable[Fact]]


def worked_out(parts: Sequence[Worked]) -> list[Fact]:
    """The facts of several sums, each left out where its readings are not there or cannot be worked with."""
    found: list[Fact] = []
    for part in parts:
        try:
            found += part()
        except (AlcoholometryError, Ungaugeable, NoRuleInForce):
            continue
    return found


def its_period(written: Completed) -> Iterable[Fact]:
    """The distillation period the run belongs to, with the way there; said too where there is none."""
    distils = written.sheet.distils
    if distils is None:
        return
    charged = written.moment(written.sheet.moments[0].when)
    found = next((one for one in all_periods(distils.spirits) if one.holds(charged)), None)
    if found is None:
        yield Fact("Distillation period", "none", note=f"no period of {distils.spirits} was open when it was charged")
        return
    address = reverse("distillation_period", args=[found.number])
    yield Fact("Distillation period", found.number, href=address, note=found.spirits)


def fill(written: Completed, charge: Flow) -> Iterable[Fact]:
    """The charge against what its still holds by the plant; nothing where the plant does not say."""
    marked = written.vessel("still").capacity_litres
    if not marked:
        return
    share = distilling.charge_fill_percent(charge_litres=charge.litres, marked_litres=marked)
    over = share > 100.0
    note = f"of {figures.litres(marked, 0)} L by the plant{'; more than the still is marked for' if over else ''}"
    yield Fact("Fill of the still", figures.percent(share), "%", note=note, state=OUT if over else None)


def recovery(written: Completed, charged: Flow, recovered: Flow) -> Iterable[Fact]:
    """What was recovered of the charge, and what that says beside the usual loss and the gauges' own uncertainty."""
    row, usual = row_of(f"loss in all, {written.sheet.operation}", day_of(written))
    u95 = COVERAGE_FACTOR * row.spread_millionths / MICRO
    share = distilling.recovery_percent(charged_lpa=charged.lpa, recovered_lpa=recovered.lpa)
    most = distilling.most_recovery_percent(usual_loss_percent=usual, u95_percent=u95)
    amber, red = distilling.loss_limits_percent(usual_percent=usual, u95_percent=u95)
    if share > most:
        held = distilling.judged_gain(share - 100.0, u95_percent=u95) == Said.RED
        note = (
            f"more than its gauges can be off by (at most {figures.percent(most)} %): a reading is wrong; measure "
            f"again{', and move nothing of it before' if held else ''}"
        )
        yield Fact("Recovered", figures.percent(share, 2), "%", note=note, state=OUT)
        return
    said = distilling.judged_loss(100.0 - share, usual_percent=usual, u95_percent=u95)
    note = (
        f"usual loss {figures.percent(usual)} %, one run tells ± {figures.percent(u95)} %; "
        f"looked into below {figures.percent(100.0 - amber)} %, red below {figures.percent(100.0 - red)} %"
    )
    yield Fact("Recovered", figures.percent(share, 2), "%", note=note, state=STATES[said])


def end_strength(written: Completed, quantity: str) -> Iterable[Fact]:
    """The strength at which a run was shut off, or the last one read, against the site's limits."""
    if written.has("end_percent"):
        ended, how = written.real("end_percent"), "written at the end"
    else:
        logged = written.site.logged(written.number, quantity)
        if not logged or not written.has("ended_at"):
            return
        try:
            ended, how = float(logged[-1][1]), f"last read {figures.clock(logged[-1][0])}"
        except ValueError:
            return
    operation, day = written.sheet.operation, day_of(written)
    most = set_figure(f"strength at the end of a {operation}, most", day)
    note, state = how, None
    # The last reading may lie well before the end: what came after it is not known, so it says nothing.
    if ended > most and written.has("end_percent"):
        note, state = f"above {figures.percent(most)} %: alcohol stays in the pot", LOOK
    elif operation == "wash run" and ended < set_figure(f"strength at the end of a {operation}, least", day):
        note, state = "run on for long after there was anything to gain", LOOK
    yield Fact("Strength at the end", figures.percent(ended), "% vol", note=note, state=state)
