"""A figure against another, as it is drawn on a page and on paper: lines, a band of what is usual, named places.

Plain values in the units that the titles name. Nothing here is stored. Told apart without colour: a line is full or
dashed, dots are filled or open.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from django.utils.safestring import SafeString

from distillery import figures, pages
from distillery.charts.drawing import LINE_HEIGHT, Drawing, ending, width_of
from distillery.charts.panel import LEFT, RIGHT, WIDTH, Panel
from distillery.charts.readings import BandPoint
from distillery.charts.scales import Scale, domain

TOP: Final = 64.0
PLOT_HEIGHT: Final = 220.0
FOOT: Final = 58.0
LABELS_ALONG: Final = 8


@dataclass(frozen=True, slots=True)
class Line:
    """Points joined in order, with what they are called. `dashed`: what is usual or promised rather than measured."""

    label: str
    points: tuple[tuple[float, float], ...]
    dashed: bool = False


@dataclass(frozen=True, slots=True)
class Place:
    """A named place along the foot, such as a cut."""

    at: float
    label: str


@dataclass(frozen=True, slots=True)
class Plot:
    """One picture. `along` and `up` name the quantities with their units; `names` stand at 1, 2, 3 along the foot where
    what is drawn is counted and not measured along it.
    """

    name: str
    title: str
    along: str
    up: str
    lines: tuple[Line, ...]
    places: int = 1
    band: tuple[tuple[float, float, float], ...] = ()
    band_label: str = ""
    marks: tuple[Place, ...] = ()
    names: tuple[str, ...] = ()
    note: str = ""

    @property
    def is_empty(self) -> bool:
        """True where nothing was measured, so that there is nothing to draw."""
        return not any(line.points for line in self.lines if not line.dashed)

    @property
    def spans(self) -> tuple[tuple[float, float], tuple[float, float]]:
        """From where to where it goes along and up. Raises ValueError of nothing."""
        xs = [x for line in self.lines for x, _ in line.points] + [x for x, _, _ in self.band]
        xs += [mark.at for mark in self.marks]
        ys = [y for line in self.lines for _, y in line.points]
        ys += [edge for _, low, high in self.band for edge in (low, high)]
        along = (0.5, max(len(self.names), 2) + 0.5) if self.names else domain(xs, least=1.0, margin=0.0)
        return along, domain(ys, least=10.0 ** (1 - self.places))

    def table(self) -> pages.Table:
        """The same figures in a table: a row for each place along, a column for each line, and the band."""
        found: dict[float, dict[str, str]] = {}
        for line in self.lines:
            for x, y in line.points:
                found.setdefault(x, {})[line.label] = figures.number(y, self.places)
        for x, low, high in self.band:
            said = f"{figures.number(low, self.places)} to {figures.number(high, self.places)}"
            found.setdefault(x, {})[self.band_label] = said
        for mark in self.marks:
            found.setdefault(mark.at, {})["Said"] = mark.label
        columns = [line.label for line in self.lines]
        columns += [self.band_label] * bool(self.band) + ["Said"] * bool(self.marks)
        rows = [
            pages.Row([pages.Cell(self.named(x)), *(pages.Cell(row.get(column, "")) for column in columns)])
            for x, row in sorted(found.items())
        ]
        heads = [pages.Column(self.along, numeric=not self.names)]
        heads += [pages.Column(column, numeric=column != "Said") for column in columns]
        return pages.Table(self.title, heads, rows, empty="Nothing to draw yet.", wide=len(heads) > LABELS_ALONG)

    def named(self, x: float) -> str:
        """A place along the foot in words: its name, or the figure."""
        if self.names:
            return self.names[round(x) - 1] if 1 <= round(x) <= len(self.names) else ""
        return figures.number(x, 0)


def plot_chart(plot: Plot) -> SafeString:
    """The drawing; nothing where nothing was measured. Raises ValueError for a value that is not finite."""
    if plot.is_empty:
        return SafeString("")
    (left, right), (low, high) = plot.spans
    drawing = Drawing(
        name=plot.name,
        title=plot.title,
        description=described(plot),
        width=WIDTH,
        height=TOP + PLOT_HEIGHT + FOOT,
    )
    panel = Panel(drawing, Scale(left, right, LEFT, RIGHT), Scale(low, high, TOP + PLOT_HEIGHT, TOP))
    panel.band([BandPoint(x, below, above) for x, below, above in plot.band], plot.band_label, named_at=18.0)
    panel.value_axis(plot.up, title_at=18.0)
    if plot.names:
        panel.foot()
        every = -(-len(plot.names) // LABELS_ALONG)
        for number, name in list(enumerate(plot.names, start=1))[::every]:
            drawing.text((panel.across.at(number), panel.up.start + 19), name, "tick-label", "middle")
        drawing.text((RIGHT, panel.up.start + 19 + LINE_HEIGHT), plot.along, "axis-title", "end")
    else:
        panel.number_axis(plot.along)
    _draw_marks(panel, plot.marks)
    for line in plot.lines:
        points = [panel.point(x, y) for x, y in line.points]
        drawing.path(points, "line dashed" if line.dashed else "line")
        if not line.dashed or len(points) == 1:
            for point in points:
                drawing.dot(point, "dot open" if line.dashed else "dot", 3.5)
    _name_lines(panel, plot.lines)
    return drawing.svg()


def described(plot: Plot) -> str:
    """The picture in a sentence, for who does not see it."""
    said = [f"{plot.up} against {plot.along}."]
    for line in plot.lines:
        if line.points:
            first, last = line.points[0], line.points[-1]
            said.append(
                f"{line.label}: {len(line.points)} point{'' if len(line.points) == 1 else 's'}, "
                f"{figures.number(first[1], plot.places)} at {plot.named(first[0])}, "
                f"{figures.number(last[1], plot.places)} at {plot.named(last[0])}."
            )
    return " ".join([*said, *(f"{mark.label}: {plot.named(mark.at)}." for mark in plot.marks)])


def _draw_marks(panel: Panel, marks: Sequence[Place]) -> None:
    for number, mark in enumerate(sorted(marks, key=lambda one: one.at)):
        x = panel.across.at(mark.at)
        top = 40.0 + LINE_HEIGHT * (number % 2)
        panel.drawing.line((x, top - 12), (x, panel.up.start), "cut")
        to_the_left = x + width_of(mark.label) > WIDTH
        panel.drawing.text((x - 5 if to_the_left else x + 5, top), mark.label, anchor=ending(to_the_left))


def _name_lines(panel: Panel, lines: Sequence[Line]) -> None:
    """The names of the lines in a row under the foot, each with a stroke as it is drawn; one line alone needs none."""
    if len(lines) < 2:
        return
    x, y = LEFT, panel.up.start + 19 + LINE_HEIGHT * 1.8
    for line in lines:
        panel.drawing.line((x, y - 4), (x + 24, y - 4), "line dashed" if line.dashed else "line")
        panel.drawing.text((x + 30, y), line.label, "tick-label")
        x += 46 + width_of(line.label)
