"""The last batches of a kind, whichever vessel they were in: how each quantity read along the way usually goes.

A batch counts at an hour of its age where it was read before and after that hour; between two readings it is taken to
go straight. Three queries, however long the history.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from statistics import fmean, quantiles, stdev
from typing import Final

from batches.models import Record, State
from batches.running.before import STEPS_OF_BAND, value_at
from batches.running.figures import figure_of, gravity_at_20
from batches.running.runs import Run, runs_of
from batches.sheets.declared import Field

LAST: Final = 20
# Of fewer batches nothing is said to be usual.
FEWEST: Final = 5
HOUR: Final = 3600.0
Curve = list[tuple[float, float]]


@dataclass(frozen=True, slots=True)
class Spread:
    """What the last batches had at one place along their curves, in the field's unit: median, the tenth and ninetieth
    percent, mean and deviation."""

    along: float
    number: int
    low: float
    median: float
    high: float
    mean: float
    deviation: float


@dataclass(frozen=True, eq=False)
class LikeBatches:
    """The last batches like one."""

    runs: tuple[Run, ...]

    @cached_property
    def _curves(self) -> dict[str, list[Curve]]:
        found: dict[str, list[Curve]] = {}
        for run in self.runs:
            for field in run.sheet.readings:
                curve = curve_of(run, field)
                if len(curve) > 1:
                    found.setdefault(field.name, []).append(curve)
        return found

    def at(self, quantity: str, hour: float) -> Spread | None:
        """What they had of a quantity at an age in hours; None where fewer than five were read there."""
        return spread_at(self._curves.get(quantity, ()), hour)

    def band(self, quantity: str) -> list[Spread]:
        """The same over all ages that enough of them were read at."""
        return band_of(self._curves.get(quantity, ()))


def spread_at(curves: Sequence[Curve], along: float) -> Spread | None:
    """What curves had at a place along them; None where fewer than five reach there."""
    values = [value for curve in curves if (value := value_at(curve, along)) is not None]
    if len(values) < FEWEST:
        return None
    tenths = quantiles(values, n=10, method="inclusive")
    return Spread(along, len(values), tenths[0], tenths[4], tenths[8], fmean(values), stdev(values))


def band_of(curves: Sequence[Curve]) -> list[Spread]:
    """The same at even steps from where the first begins to where the last ends; nothing of fewer than five."""
    if len(curves) < FEWEST:
        return []
    start, end = min(curve[0][0] for curve in curves), max(curve[-1][0] for curve in curves)
    places = [start + (end - start) * step / STEPS_OF_BAND for step in range(STEPS_OF_BAND + 1)]
    return [spread for place in places if (spread := spread_at(curves, place)) is not None]


def like_batches(kind: str, before: datetime, *, but: str = "") -> LikeBatches:
    """The last twenty complete batches of a kind that began before a moment, one left out."""
    records = Record.objects.filter(kind=kind, state=State.COMPLETE, happened_from__lt=before).exclude(number=but)
    return LikeBatches(tuple(runs_of(list(records.order_by("-happened_from", "-pk")[:LAST]))))


def curve_of(run: Run, field: Field) -> Curve:
    """What was read of a quantity by hours since the beginning; gravities at 20 °C where their sample was measured."""
    celsius = _by_time(run, field.read_at) if field.read_at else {}
    found: Curve = []
    for one in run.standing(field.name):
        value = figure_of(field, one.value)
        if value is None:
            continue
        at_20 = gravity_at_20(value, celsius[one.at]) if one.at in celsius else None
        found.append(((one.at - run.begun).total_seconds() / HOUR, value if at_20 is None else at_20))
    return found


def _by_time(run: Run, quantity: str) -> dict[datetime, float]:
    field = run.sheet.reading(quantity)
    if field is None:
        return {}
    read = [(one.at, figure_of(field, one.value)) for one in run.standing(quantity)]
    return {at: value for at, value in read if value is not None}
