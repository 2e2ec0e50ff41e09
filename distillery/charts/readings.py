"""What a chart is given: readings on the site's clock, bands of what is usual, cuts, levels, casks by age.

Values are in the unit the chart shows (per cent, degrees, litres of pure alcohol). Nothing here is stored.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True, slots=True)
class Reading:
    """A value at a time that has a zone. None is a reading not taken: the line breaks there.

    A struck reading is shown open and is not joined to the others.
    """

    at: datetime
    value: float | None
    struck: bool = False


@dataclass(frozen=True, slots=True)
class BandPoint:
    """What is usual at one place along the chart: from `low` to `high`. `at` is a time, or an age in years."""

    at: datetime | float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Cut:
    """The spout moved, or planned to be: what to, when, and at which strength in % by volume."""

    at: datetime
    label: str
    strength: float | None = None
    planned: bool = False


@dataclass(frozen=True, slots=True)
class Level:
    """A value that runs right across the chart, with what it is called."""

    value: float
    label: str


@dataclass(frozen=True, slots=True)
class Spot:
    """A point of a line over age in years."""

    years: float
    value: float


@dataclass(frozen=True, slots=True)
class Regauge:
    """A cask measured: age in years, litres of pure alcohol, and a word where it lies outside its band."""

    years: float
    value: float
    outside: str = ""
