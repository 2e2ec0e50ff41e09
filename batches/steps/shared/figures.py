"""The figures by which a step lets its operation be compared with its kind, as they travel with its posting.

A step names a figure once: what it is called, the kind it is like, the column it hangs on, and how it is worked out.
What usually holds and how far it strays is the site's dated data (distillery/rules, usual figures). A figure is a
second look and never in the way: where it cannot be worked out (an empty vessel, a charge of nothing) it is left out,
and the posting goes on without it.

Strengths in % vol at 20 °C, litres at 20 °C. How far a reading moves a figure comes from what the gauge's own chain
says of it, by the chain rule (JCGM 100:2008, 5.1.3). A reading that repeats by line is named `column@cask`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from math import hypot, isfinite
from typing import Final

from batches.sheets.sheet import Field
from batches.sheets.typed.completed import Written
from batches.sheets.typed.moments import Unreadable
from batches.sheets.typed.parsing import read_number
from batches.sheets.typed.values import Ungaugeable
from distillery.alcoholometry.errors import AlcoholometryError
from distillery.alcoholometry.mixing import Part
from distillery.clock.reading import site_day
from distillery.plant.models import MICRO
from distillery.rules.in_force import NoRuleInForce, usual_figure
from ledger.posting.drafts import FigureTaken
from ledger.posting.gauging import PARTS

HOUR: Final = timedelta(hours=1)
# Moves a gauge by so much of itself to see how far a figure goes with it.
STEP: Final = 1e-4
NEXT_TO_NOTHING: Final = 1e-5


@dataclass(frozen=True, slots=True)
class Held:
    """What a gauge says its vessel holds, as far as a figure needs it."""

    lpa: float
    percent: float

    @property
    def litres(self) -> float:
        """Litres at 20 °C."""
        return 100.0 * self.lpa / self.percent if self.percent else 0.0

    @property
    def part(self) -> Part:
        """The same for mixing."""
        return Part(self.litres, self.percent)


@dataclass(frozen=True, slots=True)
class Figure:
    """A figure worked out: its value, how far each reading moves it, and how unsure those readings leave it."""

    value: float
    parts: tuple[tuple[str, float], ...] = ()
    uncertainty: float = 0.0

    @property
    def loose(self) -> Figure:
        """The same without its readings: they stand in the operation's own balance already and must count once."""
        return Figure(self.value, (), self.uncertainty)

    def and_in_proportion_to(self, column: str, reading: float) -> Figure:
        """The same with one more reading, to which the figure is proportional."""
        return Figure(self.value, (*self.parts, (column, self.value / reading)), self.uncertainty)


Gauge = tuple[Written, str]


def from_gauges(of: Callable[..., float], *gauges: Gauge) -> Figure:
    """A figure worked out of gauges, each given as the block it stands in and its prefix."""
    held = [Held(quantity.lpa, quantity.percent20) for quantity in (block.quantity(name) for block, name in gauges)]
    slopes: dict[str, float] = {}
    unsure: dict[str, float] = {}
    for place, (block, name) in enumerate(gauges):
        if not held[place].lpa:
            continue
        by_lpa = _slope(of, held, place, Held(held[place].lpa * STEP, 0.0))
        by_percent = _slope(of, held, place, Held(0.0, held[place].percent * STEP))
        readings, chain = block.measured(name)
        for row in chain.contributions:
            moved = by_lpa * row.sensitivity_lpa + by_percent * row.sensitivity_percent
            part = PARTS.get(row.reading, "")
            column = readings.columns.get(part, "")
            key = _named(block, column) if column else f"{row.reading} {row.instrument}"
            unsure[key] = unsure.get(key, 0.0) + moved * row.standard_uncertainty
            if column and part not in readings.of:
                slopes[key] = slopes.get(key, 0.0) + moved
    uncertainty = hypot(*unsure.values())
    # What moves it by next to nothing is the rounding of the slopes.
    parts = {key: slope for key, slope in slopes.items() if abs(unsure[key]) > NEXT_TO_NOTHING * uncertainty}
    return Figure(of(*held), tuple(sorted(parts.items())), uncertainty)


def against(value: Callable[..., float], expected: Callable[..., float], *gauges: Gauge) -> tuple[Figure, float]:
    """A figure and what the same gauges make expected of it; the sensitivities are those of the difference."""
    apart = from_gauges(lambda *held: value(*held) - expected(*held), *gauges)
    wanted = from_gauges(expected, *gauges).value
    return Figure(apart.value + wanted, apart.parts, apart.uncertainty), wanted


def reading(block: Written, column: str) -> Figure:
    """A figure that is one reading by itself."""
    return Figure(block.real(column), ((_named(block, column), 1.0),))


def one_reading(block: Written, prefix: str, part: str) -> float:
    """Standard uncertainty of one reading of a gauge, in the reading's unit; for another reading of the same kind."""
    rows = block.measured(prefix)[1].contributions
    return next((row.standard_uncertainty for row in rows if PARTS.get(row.reading) == part), 0.0)


def hours(start: datetime, end: datetime) -> float:
    """Hours from one moment to another."""
    return (end - start) / HOUR


class Compared:
    """Gathers the figures of one moment, leaving out what cannot be worked out. `at` says which usual figures hold."""

    def __init__(self, at: datetime) -> None:
        self._day: date = site_day(at)
        self._found: list[FigureTaken] = []

    @property
    def figures(self) -> tuple[FigureTaken, ...]:
        """What was gathered."""
        return tuple(self._found)

    def with_kind(
        self,
        name: str,
        of: Callable[[], Figure | float],
        *,
        like: str,
        field: str,
        unit: str,
        beside: str = "",
        expected: Callable[[], float] | None = None,
    ) -> None:
        """A figure compared with others like it; the site's usual figure, or `expected`, goes before while they are
        few.
        """

        def taken() -> FigureTaken:
            figure, usual = _figure(of()), usual_figure(name, self._day)
            start = usual.expected_millionths if usual else None
            return FigureTaken(
                name=name,
                like=like,
                field=field,
                value=figure.value,
                unit=unit,
                beside=beside,
                expected=expected() if expected else None if start is None else start / MICRO,
                spread=usual.spread_millionths / MICRO if usual else None,
                parts=figure.parts,
            )

        self._keep(taken)

    def with_reading(
        self,
        name: str,
        of: Callable[[], tuple[Figure, float]],
        *,
        field: str,
        unit: str,
        wider: Callable[[], float] = lambda: 0.0,
    ) -> None:
        """A figure compared with what other readings of the same work make expected; `of` gives both, and `wider` a
        spread to be added to the usual one. Left out where the site has no usual spread for it.
        """

        def taken() -> FigureTaken:
            (figure, expected), usual = of(), usual_figure(name, self._day)
            if usual is None:
                raise NoRuleInForce(f"No usual spread is set for {name}.")
            # Readings that the row does not carry widen it.
            own = 0.0 if figure.parts else figure.uncertainty
            return FigureTaken(
                name=name,
                like="",
                field=field,
                value=figure.value,
                unit=unit,
                expected=expected,
                spread=hypot(usual.spread_millionths / MICRO, own, wider()),
                parts=figure.parts,
            )

        self._keep(taken)

    def _keep(self, taken: Callable[[], FigureTaken]) -> None:
        try:
            figure = taken()
        except (ArithmeticError, AlcoholometryError, Ungaugeable, NoRuleInForce):
            return
        numbers = (figure.value, figure.expected, figure.spread, *(moved for _, moved in figure.parts))
        if all(isfinite(one) for one in numbers if one is not None):
            self._found.append(figure)


def number_in(typed: Mapping[str, str], field: Field) -> float | None:
    """A figure that stands on another record, as typed there; None where there is none."""
    text = typed.get(field.name, "").strip()
    try:
        return float(read_number(field, text)) if text else None
    except Unreadable:
        return None


def _figure(worked: Figure | float) -> Figure:
    return worked if isinstance(worked, Figure) else Figure(worked)


def _named(block: Written, column: str) -> str:
    """A column that repeats by line is named with the cask of its line."""
    rows = block.sheet.rows
    if rows is None or column not in {one.name for one in rows.fields}:
        return column
    return f"{column}@{block.vessel(rows.each).code}"


def _slope(of: Callable[..., float], held: Sequence[Held], place: int, step: Held) -> float:
    def moved(sign: float) -> float:
        one = held[place]
        there = Held(one.lpa + sign * step.lpa, one.percent + sign * step.percent)
        return of(*held[:place], there, *held[place + 1 :])

    return (moved(1.0) - moved(-1.0)) / (2.0 * (step.lpa or step.percent))
