"""A cask over its years: what the book says it holds, every regauge, the band its kind keeps to, and the floor."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from django.utils.safestring import SafeString

from distillery import figures
from distillery.charts.drawing import LINE_HEIGHT, Drawing, ending, width_of
from distillery.charts.panel import FOOT, LEFT, RIGHT, WIDTH, Panel, along
from distillery.charts.readings import BandPoint, Regauge, Spot
from distillery.charts.scales import Scale, domain

TOP: Final = 32.0
PLOT_HEIGHT: Final = 240.0
YEARS_AT_LEAST: Final = 1.0
# Where the figure of a gauge may stand beside its dot, the nearest first.
ABOVE: Final = (-9.0, -9.0 - LINE_HEIGHT, -9.0 - 2 * LINE_HEIGHT)
BELOW: Final = (20.0, 20.0 + LINE_HEIGHT, 20.0 + 2 * LINE_HEIGHT)


def cask_chart(
    regauges: Sequence[Regauge],
    *,
    name: str,
    title: str,
    band: Sequence[BandPoint] = (),
    band_text: str = "expected",
    book: Sequence[Spot] = (),
    samples: Sequence[Spot] = (),
    floor: Sequence[Spot] = (),
    floor_text: str = "lowest strength",
) -> SafeString:
    """Litres of pure alcohol against years since first filled.

    `band` gives ages in years; `book` is the book figure and is drawn straight from one to the next, since a cask loses
    all the time and not when it is gauged: what is drawn off at a moment has two figures at that moment, before and
    after, so that a sample is a small step down. Gauges are dots; `floor` is the alcohol at which the cask would fall
    below its least strength. Nothing when there is neither a regauge nor a book figure. Raises ValueError for a value
    that is not finite.
    """
    if not (regauges or book):
        return SafeString("")
    marks = [*book, *samples]
    values = [spot.value for spot in marks] + [regauge.value for regauge in regauges]
    values += [edge for point in band for edge in (point.low, point.high)]
    # The floor comes into sight when the cask comes near it, and does not flatten everything else before.
    low, high = domain(values, least=2.0)
    near = [spot for spot in floor if spot.value >= low - (high - low)]
    if near:
        low, high = domain([*values, *(spot.value for spot in near)], least=2.0)
    ages = [spot.years for spot in marks] + [regauge.years for regauge in regauges]
    ages += [along(point.at) for point in band]
    oldest = max(YEARS_AT_LEAST, *ages) * 1.02

    drawing = Drawing(
        name=name,
        title=title,
        description=_described(regauges, book),
        width=WIDTH,
        height=TOP + PLOT_HEIGHT + FOOT,
    )
    panel = Panel(drawing, Scale(0.0, oldest, LEFT, RIGHT), Scale(low, high, TOP + PLOT_HEIGHT, TOP))
    panel.band(band, band_text)
    panel.value_axis("Litres of pure alcohol")
    panel.number_axis("years since first filled")
    if len(near) > 1:
        points = [panel.point(spot.years, spot.value) for spot in near]
        drawing.path(points, "floor")
        drawing.text((points[0][0] + 6, points[0][1] - 6), floor_text)
    drawing.path([panel.point(spot.years, spot.value) for spot in book], "line")
    for sample in samples:
        x, y = panel.point(sample.years, sample.value)
        drawing.path([(x - 4, y + 4), (x, y + 10), (x + 4, y + 4)], "line")
    taken: list[_Room] = []
    # The newest is the one that is looked for: it has the first choice of where its figure stands.
    for regauge in sorted(regauges, key=lambda one: one.years, reverse=True):
        _draw_regauge(panel, regauge, taken)
    return drawing.svg()


@dataclass(frozen=True, slots=True)
class _Room:
    """Where words stand, from left to right, on their base line."""

    left: float
    right: float
    y: float

    def meets(self, other: _Room) -> bool:
        """True where the words would stand on one another."""
        return self.left < other.right and other.left < self.right and abs(self.y - other.y) < LINE_HEIGHT


def _draw_regauge(panel: Panel, regauge: Regauge, taken: list[_Room]) -> None:
    """The dot, and its figure above or below where no other stands; left out where there is no room beside others."""
    x, y = point = panel.point(regauge.years, regauge.value)
    panel.drawing.dot(point, "dot")
    words = figures.number(regauge.value, 2)
    if regauge.outside:
        panel.drawing.dot(point, "ring", 8)
        words = f"{words} {regauge.outside}"
    at_the_edge = x > RIGHT - 110
    begins = x - 12 if at_the_edge else x + 6
    wide = width_of(words)
    left = begins - wide if at_the_edge else begins
    first, second = (BELOW, ABOVE) if regauge.outside else (ABOVE, BELOW)
    for aside in (step for pair in zip(first, second, strict=True) for step in pair):
        room = _Room(left, left + wide, y + aside)
        within = TOP - LINE_HEIGHT < room.y < panel.up.start
        if within and not any(room.meets(other) for other in taken):
            taken.append(room)
            kind = "halo outside" if regauge.outside else "halo"
            panel.drawing.text((begins, room.y), words, kind, ending(at_the_edge))
            return


def _described(regauges: Sequence[Regauge], book: Sequence[Spot]) -> str:
    said = []
    if book:
        said.append(
            f"Book: {figures.number(book[0].value, 2)} at the start, {figures.number(book[-1].value, 2)} "
            f"litres of pure alcohol at {figures.number(book[-1].years, 1)} years."
        )
    for regauge in regauges:
        outside = f", {regauge.outside}" if regauge.outside else ""
        said.append(
            f"Regauged at {figures.number(regauge.years, 1)} years: {figures.number(regauge.value, 2)}{outside}."
        )
    return " ".join(said)
