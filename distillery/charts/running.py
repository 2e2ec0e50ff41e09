"""What is read of a run while it is on, over the grey band of the runs before it; large with axes, or small on a line.

The time that is still to come stays free to the right, as far as the band goes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from django.utils.safestring import SafeString

from distillery import figures
from distillery.charts.drawing import Drawing, Point, ending, width_of
from distillery.charts.panel import along, beyond
from distillery.charts.readings import BandPoint, Cut, Reading
from distillery.charts.scales import Scale, domain, ticks, time_ticks


@dataclass(frozen=True, slots=True)
class Size:
    """Where the frame lies in the drawing; without `axes` it has neither figures nor words but the last value."""

    width: float
    height: float
    left: float
    right: float
    top: float
    foot: float
    axes: bool


LARGE: Final = Size(800, 290, 52, 784, 34, 256, axes=True)
SMALL: Final = Size(420, 92, 4, 366, 10, 86, axes=False)


def running_chart(
    readings: Sequence[Reading],
    *,
    name: str,
    title: str,
    quantity: str,
    begun: datetime,
    until: datetime,
    size: Size = LARGE,
    places: int = 1,
    band: Sequence[BandPoint] = (),
    cuts: Sequence[Cut] = (),
    last: str = "",
) -> SafeString:
    """Readings of one quantity from `begun` to `until`; where one has no value, nothing ran, and the line breaks.
    `last` is how the last value is written beside its mark.

    Nothing where there is neither a reading nor a band. Raises ValueError for a value that is not finite.
    """
    read = [(one.at, one.value) for one in readings if not one.struck and one.value is not None]
    values = [value for _, value in read] + [edge for point in band for edge in (point.low, point.high)]
    if not values:
        return SafeString("")
    low, high = domain(values, least=10.0 ** (1 - places))
    start = min([begun, *(at for at, _ in read)])
    end = beyond(start, max([until, *(at for at, _ in read)]))
    across = Scale(start.timestamp(), end.timestamp(), size.left, size.right)
    up = Scale(low, high, size.foot, size.top)
    drawing = Drawing(
        name=name,
        title=title,
        description=_described(read, quantity, places),
        width=size.width,
        height=size.height,
        kind="chart running" if size.axes else "chart small",
    )

    def place(at: datetime | float, value: float) -> Point:
        return across.at(along(at)), up.at(value)

    inside = [point for point in band if across.low <= along(point.at) <= across.high]
    if len(inside) > 1:
        edges = [place(point.at, point.high) for point in inside]
        drawing.area([*edges, *(place(point.at, point.low) for point in reversed(inside))], "band")
    if size.axes:
        _axes(drawing, across, up, start, end, quantity)
    _cuts(drawing, across, size, cuts)
    for stretch in _stretches(readings):
        drawing.path([place(at, value) for at, value in stretch], "line")
    for at, value in read[:-1]:
        drawing.dot(place(at, value), "dot", 3.2 if size.axes else 2.4)
    if size.axes:
        for one in readings:
            if one.struck and one.value is not None:
                drawing.dot(place(one.at, one.value), "struck")
    if read:
        point = place(*read[-1])
        drawing.dot(point, "now", 5.5 if size.axes else 4.5)
        words = last or figures.number(read[-1][1], places)
        at_the_edge = point[0] + 10 + width_of(words) > size.width
        drawing.text(
            (point[0] - 10 if at_the_edge else point[0] + 10, max(point[1] - 8, 12)),
            words,
            "halo last",
            ending(at_the_edge),
        )
    return drawing.svg()


def _stretches(readings: Sequence[Reading]) -> list[list[tuple[datetime, float]]]:
    """What was read, in order of time, in stretches between which nothing ran."""
    found: list[list[tuple[datetime, float]]] = [[]]
    for one in sorted(readings, key=lambda one: one.at):
        if one.value is None:
            found.append([])
        elif not one.struck:
            found[-1].append((one.at, one.value))
    return found


def _axes(drawing: Drawing, across: Scale, up: Scale, start: datetime, end: datetime, quantity: str) -> None:
    marks = ticks(up.low, up.high, 6)
    for value in marks.values:
        y = up.at(value)
        drawing.line((across.start, y), (across.end, y), "grid")
        drawing.text((across.start - 8, y + 4.5), figures.number(value, marks.places), "tick-label", "end")
    drawing.text((8, 14), quantity, "axis-title")
    drawing.line((across.start, up.start), (across.end, up.start), "axis")
    whens, step = time_ticks(start, end)
    for when in whens:
        x = across.at(when.timestamp())
        drawing.line((x, up.start), (x, up.start + 5), "axis")
        words = figures.day(when) if step.days else figures.clock(when)
        drawing.text((min(x, across.end - width_of(words) / 2), up.start + 20), words, "tick-label", "middle")


def _cuts(drawing: Drawing, across: Scale, size: Size, cuts: Sequence[Cut]) -> None:
    """Cuts made as full lines, planned ones dashed, each named at its head, one row under another."""
    for row, cut in enumerate(sorted(cuts, key=lambda one: one.at)):
        stamp = cut.at.timestamp()
        if not across.low <= stamp <= across.high:
            continue
        x = across.at(stamp)
        drawing.line((x, size.top - 6 if size.axes else 2), (x, size.foot), "plan" if cut.planned else "cut")
        if not size.axes:
            continue
        words = f"{'plan ' if cut.planned else ''}{cut.label}"
        if not cut.planned:
            words += f" {figures.clock(cut.at)}"
        if cut.strength is not None:
            words += f" {figures.percent(cut.strength)} %"
        to_the_left = x + 6 + width_of(words) > size.width
        drawing.text(
            (x - 6 if to_the_left else x + 6, size.top + 4 + 16 * (row % 3)), words, "halo", ending(to_the_left)
        )


def _described(read: Sequence[tuple[datetime, float]], quantity: str, places: int) -> str:
    if not read:
        return f"{quantity}: no reading yet."
    figure = [figures.number(value, places) for value in (read[0][1], read[-1][1])]
    return (
        f"{quantity}: {len(read)} reading{'' if len(read) == 1 else 's'} from {figures.moment(read[0][0])} to "
        f"{figures.moment(read[-1][0])}; first {figure[0]}, last {figure[1]}."
    )
