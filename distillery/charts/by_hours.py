"""Several quantities of one batch against its hours, one panel below the other, over what the last batches had.

The grey band holds the middle eight tenths of the last batches, the broken line in it their median. The same drawing
stands on page and paper: the band is grey on both, marks differ by form, and colour carries nothing alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from distillery import figures
from distillery.charts.drawing import Drawing, ending
from distillery.charts.panel import FOOT, LEFT, RIGHT, WIDTH, Panel
from distillery.charts.readings import BandPoint
from distillery.charts.scales import Scale, domain

# Gravities are read and spoken as 1060, without the comma of other thousands.
PLAIN_THOUSANDS: Final = figures.Style(thousands="")
TOP: Final = 46.0
FIRST_HEIGHT: Final = 190.0
OTHER_HEIGHT: Final = 90.0
BETWEEN: Final = 44.0
LEGEND_AT: Final = 16.0


@dataclass(frozen=True, slots=True)
class HourReading:
    """A value at an hour of a batch's age; a struck one is shown open and not joined to the others."""

    hour: float
    value: float
    struck: bool = False


@dataclass(frozen=True, slots=True)
class HourSpread:
    """What the last batches had at an hour: the middle eight tenths of them from `low` to `high`, and their median."""

    hour: float
    low: float
    median: float
    high: float


@dataclass(frozen=True, slots=True)
class HourSeries:
    """One quantity with its unit, what was read of it, and how the last batches went."""

    quantity: str
    readings: Sequence[HourReading]
    spread: Sequence[HourSpread] = ()
    places: int = 1

    @property
    def is_empty(self) -> bool:
        """True where nothing was read that could be drawn."""
        return not self.readings


def hours_chart(
    series: Sequence[HourSeries],
    *,
    name: str,
    title: str,
    like: str = "",
    since: str = "Hours",
    marks: Sequence[tuple[float, str]] = (),
) -> Drawing | None:
    """The quantities that were read, the first one largest. `like` says whose band it is, `since` what the hours count.

    None where nothing was read. Raises ValueError for a value that is not finite.
    """
    drawn = [one for one in series if not one.is_empty]
    if not drawn:
        return None
    hours = [one.hour for each in drawn for one in each.readings] + [hour for hour, _ in marks]
    hours += [one.hour for each in drawn for one in each.spread]
    first, last = min(0.0, *hours), max(hours)
    across = Scale(first, last if last > first else first + 1.0, LEFT, RIGHT)
    heights = [FIRST_HEIGHT, *([OTHER_HEIGHT] * (len(drawn) - 1))]
    height = TOP + sum(heights) + BETWEEN * (len(drawn) - 1) + FOOT
    drawing = Drawing(name=name, title=title, description=_described(drawn, marks), width=WIDTH, height=height)
    top = TOP
    for place, (one, tall) in enumerate(zip(drawn, heights, strict=True)):
        values = [each.value for each in one.readings] + [edge for each in one.spread for edge in (each.low, each.high)]
        low, high = domain(values, least=2.0 * 10.0 ** (1 - one.places))
        panel = Panel(drawing, across, Scale(low, high, top + tall, top))
        _draw(panel, one, like if place == 0 else "", is_last=place == len(drawn) - 1, since=since)
        if place == 0:
            _mark(panel, marks)
        top += tall + BETWEEN
    return drawing


def _draw(panel: Panel, series: HourSeries, like: str, *, is_last: bool, since: str) -> None:
    drawing = panel.drawing
    panel.band([BandPoint(one.hour, one.low, one.high) for one in series.spread], like, named_at=LEGEND_AT)
    drawing.path([panel.point(one.hour, one.median) for one in series.spread], "plan")
    is_large = panel.up.start - panel.up.end > OTHER_HEIGHT
    panel.value_axis(series.quantity, at_most=6 if is_large else 4, style=PLAIN_THOUSANDS)
    if is_last:
        panel.number_axis(since)
    else:
        panel.foot()
    standing = sorted((one.hour, one.value) for one in series.readings if not one.struck)
    points = [panel.point(hour, value) for hour, value in standing]
    drawing.path(points, "line")
    for point in points:
        drawing.dot(point, "dot", 3.5)
    for one in series.readings:
        if one.struck:
            drawing.dot(panel.point(one.hour, one.value), "struck")


def _mark(panel: Panel, marks: Sequence[tuple[float, str]]) -> None:
    for hour, words in marks:
        x = panel.across.at(hour)
        panel.drawing.line((x, panel.up.start), (x, panel.up.end), "cut")
        to_the_left = x > (panel.across.start + panel.across.end) / 2
        panel.drawing.text((x - 6 if to_the_left else x + 6, panel.up.end + 12), words, anchor=ending(to_the_left))


def _described(drawn: Sequence[HourSeries], marks: Sequence[tuple[float, str]]) -> str:
    said = []
    for one in drawn:
        standing = sorted((each.hour, each.value) for each in one.readings if not each.struck)
        if not standing:
            continue
        values = [value for _, value in standing]
        shown = (figures.number(value, one.places, PLAIN_THOUSANDS) for value in (values[0], max(values), values[-1]))
        first, highest, last = shown
        said.append(f"{one.quantity}: {len(values)} read, first {first}, highest {highest}, last {last}.")
    said += [f"{words} at {figures.number(hour, 1)} hours." for hour, words in marks]
    return " ".join(said)
