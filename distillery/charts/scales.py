"""From readings to places on paper, and the round numbers along the edge.

Ticks step by 1, 2 or 5 times a power of ten; along time they step by what a clock shows (1, 2, 5, 10, 15, 30
minutes; 1, 2, 3, 6, 12 hours; whole days). Pure arithmetic, but for the site's clock that days begin on.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from typing import Final

from django.utils import timezone

MINUTE_STEPS: Final = (1, 2, 5, 10, 15, 30, 60, 120, 180, 360, 720)
DAY_STEPS: Final = (1, 2, 7, 14, 28, 91, 182, 364)

# Binary fractions fall a little beside a tick; this much of a step counts as being on it.
_ON_THE_TICK: Final = 1e-9


@dataclass(frozen=True, slots=True)
class Scale:
    """Values from `low` to `high` laid out from `start` to `end`; `low` is less than `high`."""

    low: float
    high: float
    start: float
    end: float

    def at(self, value: float) -> float:
        """Where `value` lies on paper."""
        return self.start + (value - self.low) / (self.high - self.low) * (self.end - self.start)


@dataclass(frozen=True, slots=True)
class Ticks:
    """Round values in rising order and the decimals they need to be written exactly."""

    values: tuple[float, ...]
    places: int


def ticks(low: float, high: float, at_most: int = 6) -> Ticks:
    """The round values from `low` to `high`, `at_most` of them (2 or more) at the finest step that allows it.

    Raises ValueError unless both ends are finite and `low` is less than `high`.
    """
    if not (math.isfinite(low) and math.isfinite(high) and low < high) or at_most < 2:
        raise ValueError(f"No ticks lie between {low} and {high}.")
    power = math.floor(math.log10((high - low) / at_most))
    for exponent in range(power, power + 3):
        for multiple in (1, 2, 5):
            first, last = _span_of_multiples(low, high, multiple, exponent)
            if last - first + 1 <= at_most:
                values = tuple(_times_power(k * multiple, exponent) for k in range(first, last + 1))
                return Ticks(values, max(0, -exponent))
    raise ValueError(f"No ticks lie between {low} and {high}.")


def _span_of_multiples(low: float, high: float, multiple: int, exponent: int) -> tuple[int, int]:
    step = _times_power(multiple, exponent)
    return math.ceil(low / step - _ON_THE_TICK), math.floor(high / step + _ON_THE_TICK)


def _times_power(whole: int, exponent: int) -> float:
    # Dividing by a power of ten rounds once, so that 3 tenths is written 0.3 and not 0.30000000000000004.
    return whole / 10**-exponent if exponent < 0 else float(whole * 10**exponent)


def domain(values: Iterable[float], *, least: float = 0.0, margin: float = 0.06) -> tuple[float, float]:
    """Lowest and highest value with a little room on both sides, at least `least` apart.

    Raises ValueError for no values or one that is not finite.
    """
    known = list(values)
    if not known or not all(map(math.isfinite, known)):
        raise ValueError("A scale needs at least one value, and only finite ones.")
    low, high = min(known), max(known)
    room = max((high - low) * margin, (least - (high - low)) / 2, abs(high) * 1e-6, 1e-6)
    return low - room, high + room


def time_ticks(start: datetime, end: datetime, at_most: int = 8) -> tuple[tuple[datetime, ...], timedelta]:
    """Round times on the site's clock from `start` to `end` (both with a zone, `start` first) and their step.

    Raises ValueError when `end` is not after `start`.
    """
    if end <= start:
        raise ValueError("A chart over time needs an end after its start.")
    midnight = timezone.localtime(start).replace(hour=0, minute=0, second=0, microsecond=0, fold=0)
    # In hours and minutes time runs on evenly: the hour that comes twice has its ticks twice.
    origin = midnight.astimezone(UTC)
    for step in (timedelta(minutes=minutes) for minutes in MINUTE_STEPS):
        first, last = -((origin - start) // step), (end - origin) // step
        if last - first + 1 <= at_most:
            return tuple(origin + step * k for k in range(first, last + 1)), step
    length = (end - midnight).days + 1
    for days in (*DAY_STEPS, length):
        # Whole days are added on the site's clock: each tick stays at midnight when the clocks change.
        found = [(midnight + timedelta(days=k)).astimezone(UTC) for k in range(0, length + 1, days)]
        inside = tuple(when for when in found if start <= when <= end)
        if len(inside) <= at_most:
            break
    return inside, timedelta(days=days)


def apart(places: list[float], gap: float) -> list[float]:
    """The same places in the same order, pushed down where two would be nearer than `gap`."""
    moved = list(places)
    order = sorted(range(len(places)), key=lambda index: places[index])
    for before, after in pairwise(order):
        moved[after] = max(moved[after], moved[before] + gap)
    return moved
