"""Reductions one after another: the water this one wants, what it made of the vat, what the next one wants, its rest.

All by mass, from the gauges on the sheet; nothing of it is posted.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import Final

from batches.models import Record, State
from batches.sheets.sheet import Problem
from batches.sheets.typed.completed import Completed
from batches.sheets.typed.moments import Unreadable
from batches.sheets.typed.parsing import read_number
from batches.steps.shared.site_figures import set_figure
from batches.steps.shared.still_charges import day_of, gauged, worked_out
from batches.steps.shared.vats import mixed, part
from distillery import figures
from distillery.alcoholometry.mixing import Part
from distillery.alcoholometry.quantity import Quantity, whole_grams
from distillery.alcoholometry.weighing import litres20_of_true_kilograms, true_kilograms
from distillery.charts.plots import Line, Plot
from distillery.pages import LOOK, Fact
from distillery.process.reducing import mixing_says, reductions
from ledger.models import Gauge

REFERENCE_CELSIUS: Final = 20.0
A_DAY: Final = timedelta(days=1)
KIND, BEFORE_IT = "reduction", "goes_on_from"
# A batch is reduced a few times; a chain that goes round ends here.
MOST_TOGETHER: Final = 12
LEAST_REST, MOST_REST = "rest of a reduction, least", "rest of a reduction, most"


def water_added(written: Completed) -> Quantity:
    """Water as weighed in air, as mass and bulk without alcohol."""
    kilograms = true_kilograms(kilograms_in_air=written.real("water_kg"), percent20=0.0, celsius=REFERENCE_CELSIUS)
    return Quantity(
        pure_ul=0,
        mass_g=whole_grams(kilograms),
        litres20=litres20_of_true_kilograms(true_kilograms=kilograms, percent20=0.0),
        percent20=0.0,
        uncertainty_ul=0.0,
    )


def reduction_facts(written: Completed, now: datetime) -> list[Fact]:
    """What this reduction wants and comes to, and what the next one wants."""
    return worked_out(
        (
            lambda: _wanted(written),
            lambda: _as_mixed(written),
            lambda: mixed(written),
            lambda: _next(written),
            lambda: _rested(written),
        )
    )


def _wanted(written: Completed) -> Iterable[Fact]:
    if written.has("target_percent"):
        yield from _water("Water wanted", part(gauged(written, "before")), written.real("target_percent"))


def _water(label: str, start: Part, target: float) -> Iterable[Fact]:
    (wanted,) = reductions(start, [target])
    weighed = wanted.water_kilograms_in_air
    note = (
        f"by mass, for {figures.percent(target)} % vol: {figures.litres(wanted.water.water_litres20)} L of water, "
        f"{figures.litres(wanted.water.litres20)} L after it, {figures.litres(wanted.water.contraction_litres20)} L "
        "less by contraction"
    )
    yield Fact(label, figures.number(weighed, 1), "kg", note=note)


def _as_mixed(written: Completed) -> Iterable[Fact]:
    made = mixing_says(part(gauged(written, "before")), water_kilograms=water_added(written).mass_g / 1000)
    note = f"{figures.litres(made.litres20)} L, by the gauge before and the water"
    yield Fact("Strength by the mixing", figures.percent(made.percent20, 2), "% vol", note=note)


def _next(written: Completed) -> Iterable[Fact]:
    if written.has("next_target_percent"):
        target = written.real("next_target_percent")
        yield from _water("Water the next one wants", part(gauged(written, "after")), target)


def _rested(written: Completed) -> Iterable[Fact]:
    before = record_before(written)
    if before is None or before.happened_from is None or not written.has("at"):
        return
    days = (written.moment("at") - before.happened_from) / A_DAY
    day = day_of(written)
    least, most = _planned(written, before) or set_figure(LEAST_REST, day), set_figure(MOST_REST, day)
    short = days < least
    note = f"since {before.number}; rests {figures.number(least, 1)} to {figures.number(most, 0)} days"
    yield Fact("Rested", figures.number(days, 1), "days", note=note, state=LOOK if short else None)


def _planned(written: Completed, before: Record) -> float | None:
    """The rest that the reduction before planned, days."""
    text = written.site.typed_of(before).get("rest_days", "").strip()
    try:
        return float(read_number(written.sheet.field("rest_days"), text)) if text else None
    except Unreadable:
        return None


def record_before(written: Completed) -> Record | None:
    """The reduction that this one goes on from; None without one."""
    return written.record(BEFORE_IT) if written.has(BEFORE_IT) else None


def gone_on_from(written: Completed) -> list[Problem]:
    """A reduction goes on from an earlier one, not from itself and not from one that came after."""
    before = record_before(written)
    if before is None:
        return []
    if before.number == written.number:
        said = f"{before.number} is this reduction; name the one before it, or leave it blank."
        return [Problem(BEFORE_IT, None, said)]
    if before.happened_from is not None and before.happened_from >= written.moment("at"):
        said = f"{before.number} was made {figures.moment(before.happened_from)}, after this one; name an earlier one."
        return [Problem(BEFORE_IT, None, said)]
    return []


def strength_by_reduction(written: Completed, now: datetime) -> list[Plot]:
    """Strength after each reduction, from the first gauge on; nothing where there was only one."""
    chain = _chain(written)
    if len(chain) < 2:
        return []
    gauges = Gauge.objects.standing().filter(movement__record_kind=KIND, movement__record_number__in=chain)
    percents = {(one.movement.record_number, one.name): _percent(one) for one in gauges.select_related("movement")}
    found = [(number, percents.get((number, "after"))) for number in chain]
    first = percents.get((chain[0], "before"))
    points = [("before", first), *found]
    known = [(name, value) for name, value in points if value is not None]
    drawn = tuple((float(place), value) for place, (_, value) in enumerate(known, start=1))
    names = tuple(name for name, _ in known)
    return [
        Plot(
            "reductions",
            "Strength by reduction",
            "reduction",
            "Strength, % vol",
            (Line("Gauged", drawn),),
            2,
            names=names,
        )
    ]


def _percent(gauge: Gauge) -> float | None:
    return gauge.percent20_millionths / 1_000_000 if gauge.pure_ul else None


def _chain(written: Completed) -> list[str]:
    """The numbers of the reductions up to this one, the first first."""
    if not written.number:
        return []
    found, before = [written.number], record_before(written)
    while before is not None and before.number not in found and len(found) < MOST_TOGETHER:
        found.append(before.number)
        number = written.site.typed_of(before).get(BEFORE_IT, "").strip()
        before = written.site.record_meant(KIND, number) if number else None
        if before is not None and before.state == State.VOID:
            break
    return found[::-1]
