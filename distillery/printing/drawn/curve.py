"""The curve of a run or a fermentation for the printed record: readings against time, cuts as lines through it.

Each reading is a dot and the dots are joined; where a reading is missing the line has a gap. A cut stands as a
line through the whole height with its name, time and strength; a planned cut is a short tick on the edge of the scale.
Black only. The readings themselves are printed in the table beside it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from distillery import figures
from distillery.charts.scales import Scale, Ticks, domain, ticks, time_ticks
from distillery.printing.drawn.cut_labels import Label, placed_labels
from distillery.printing.layout import Flow, PlainFlow
from distillery.printing.paper import BOLD, MILLIMETRE, REGULAR, SMALL_SIZE, breadth, printable

# Loaded where it draws: a page or command that prints nothing does without it.
if TYPE_CHECKING:
    from reportlab.graphics.shapes import Drawing, Line, String
    from reportlab.pdfgen.canvas import Canvas

LEFT_OF_SCALE = 32.0
RIGHT_OF_PLOT = 14.0
BELOW_PLOT = 16.0
LABEL_ROW = SMALL_SIZE * 1.3
FINEST_SPAN = 0.0005  # five steps of a gravity read to the fourth place
MOST_MARKS = 7
ROOM_OF_A_CLOCK = 40.0
ROOM_OF_A_DAY = 62.0
DAYS_AFTER = timedelta(days=2)
A_DAY = timedelta(days=1)
MIDNIGHT = "00:00"


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading of the curve; `value` is None where it was not taken."""

    at: datetime
    value: float | None


@dataclass(frozen=True, slots=True)
class Cut:
    """A change of receiver: its name, when, at what strength; `planned` is the strength it was meant for."""

    name: str
    at: datetime
    value: float
    planned: float | None = None


@dataclass(frozen=True, slots=True)
class RunCurve:
    """Readings against time. `from_zero` keeps the foot of the scale at nought."""

    readings: tuple[Reading, ...]
    cuts: tuple[Cut, ...] = ()
    quantity: str = "Strength"
    unit: str = "% vol at 20 °C"
    from_zero: bool = True
    places: int = 1
    height_mm: float = 62.0

    def flows(self, width: float) -> list[Flow]:
        taken = [reading.value for reading in self.readings if reading.value is not None]
        if not taken:
            return []
        return [PlainFlow([_CurveStrip(self, width, self.height_mm * MILLIMETRE)], space_above=6.0)]


@dataclass(frozen=True, slots=True)
class _CurveStrip:
    curve: RunCurve
    width: float
    height: float
    keep_with_next: bool = False

    def draw(self, canvas: Canvas, left: float, top: float) -> None:
        from reportlab.graphics import renderPDF

        renderPDF.draw(_drawing(self.curve, self.width, self.height), canvas, left, top - self.height)


@dataclass(frozen=True, slots=True)
class _Scales:
    start: datetime
    end: datetime
    upright: Scale
    marks: Ticks
    plot_top: float
    plot_right: float

    def x(self, at: datetime) -> float:
        whole = (self.end - self.start).total_seconds() or 1.0
        share = (at.astimezone(UTC) - self.start).total_seconds() / whole
        return LEFT_OF_SCALE + share * (self.plot_right - LEFT_OF_SCALE)

    def y(self, value: float) -> float:
        return self.upright.at(value)


def _drawing(curve: RunCurve, width: float, height: float) -> Drawing:
    from reportlab.graphics.shapes import Circle, Drawing, PolyLine
    from reportlab.lib.colors import black

    # Without it the library's own font would be named in the file and not embedded.
    drawing = Drawing(width, height, initialFontName=REGULAR)
    marks = _cut_labels(curve, width - RIGHT_OF_PLOT)
    rows = max((label.row for *_, label in marks), default=-1) + 1
    plot_top = height - LABEL_ROW * (1 + rows) - 7
    scales = _scales(curve, plot_top, width - RIGHT_OF_PLOT)
    title = printable(f"{curve.quantity}, {curve.unit}")
    drawing.add(_text(0, height - SMALL_SIZE, title, font=BOLD))
    _draw_axes(drawing, scales)
    for cut, name, label in marks:
        x = scales.x(cut.at)
        label_y = plot_top + 3 + label.row * LABEL_ROW
        drawing.add(_line(x, BELOW_PLOT, x, label_y - 1, 1.0))
        drawing.add(_text(label.start, label_y, name))
        if cut.planned is not None and scales.upright.low <= cut.planned <= scales.upright.high:
            planned_y = scales.y(cut.planned)
            drawing.add(_line(x - 5, planned_y, x + 5, planned_y, 0.8))
    for stretch in _unbroken(curve.readings):
        points = [(scales.x(at), scales.y(value)) for at, value in stretch]
        if len(points) > 1:
            flat = [coordinate for point in points for coordinate in point]
            drawing.add(PolyLine(flat, strokeColor=black, strokeWidth=1.2))
        for x, y in points:
            drawing.add(Circle(x, y, 1.7, fillColor=black, strokeColor=black, strokeWidth=0.2))
    return drawing


def _unbroken(readings: Sequence[Reading]) -> list[list[tuple[datetime, float]]]:
    stretches: list[list[tuple[datetime, float]]] = [[]]
    for reading in sorted(readings, key=lambda reading: reading.at):
        if reading.value is None:
            stretches.append([])
        else:
            stretches[-1].append((reading.at, reading.value))
    return [stretch for stretch in stretches if stretch]


def _moments(curve: RunCurve) -> list[datetime]:
    # Differences of times on one local clock would pass over a change of that clock.
    local = [reading.at for reading in curve.readings] + [cut.at for cut in curve.cuts]
    return [at.astimezone(UTC) for at in local]


def _scales(curve: RunCurve, plot_top: float, plot_right: float) -> _Scales:
    values = [reading.value for reading in curve.readings if reading.value is not None]
    values += [cut.value for cut in curve.cuts]
    lowest, highest = domain(values, least=FINEST_SPAN)
    if curve.from_zero:
        lowest = min(0.0, *values)
    moments = _moments(curve)
    upright = Scale(lowest, highest, BELOW_PLOT, plot_top)
    marks = ticks(lowest, highest, MOST_MARKS)
    return _Scales(min(moments), max(moments), upright, marks, plot_top, plot_right)


def _draw_axes(drawing: Drawing, scales: _Scales) -> None:
    for value in scales.marks.values:
        y = scales.y(value)
        drawing.add(_line(LEFT_OF_SCALE, y, scales.plot_right, y, 0.25))
        drawing.add(_text(LEFT_OF_SCALE - 4, y - 2.8, figures.number(value, scales.marks.places), anchor="end"))
    drawing.add(_line(LEFT_OF_SCALE, BELOW_PLOT, LEFT_OF_SCALE, scales.plot_top, 0.6))
    if scales.end == scales.start:
        return
    days = scales.end - scales.start > DAYS_AFTER
    room = ROOM_OF_A_DAY if days else ROOM_OF_A_CLOCK
    at_most = max(2, int((scales.plot_right - LEFT_OF_SCALE) / room))
    times, step = time_ticks(scales.start, scales.end, at_most)
    for at in times:
        x = scales.x(at)
        drawing.add(_line(x, BELOW_PLOT, x, BELOW_PLOT - 3, 0.6))
        label = figures.clock(at)
        # Over several days a midnight stands for its date, or every day would read alike.
        if step >= A_DAY or (days and label == MIDNIGHT):
            label = figures.day(at, year=False)
        drawing.add(_text(x, BELOW_PLOT - 12, label, anchor="middle"))


def _cut_labels(curve: RunCurve, plot_right: float) -> list[tuple[Cut, str, Label]]:
    moments = _moments(curve)
    scales = _Scales(min(moments), max(moments), Scale(0.0, 1.0, 0.0, 1.0), Ticks((), 0), 0.0, plot_right)
    names = []
    for cut in curve.cuts:
        name = f"{cut.name} {figures.clock(cut.at)} at {figures.number(cut.value, curve.places)}"
        if cut.planned is not None:
            name += f" (plan {figures.number(cut.planned, curve.places)})"
        names.append(printable(name))
    lengths = [breadth(name, REGULAR) * SMALL_SIZE for name in names]
    lines = list(zip((scales.x(cut.at) for cut in curve.cuts), lengths, strict=True))
    return list(zip(curve.cuts, names, placed_labels(lines, 0.0, plot_right + RIGHT_OF_PLOT), strict=True))


def _line(x1: float, y1: float, x2: float, y2: float, width: float) -> Line:
    from reportlab.graphics.shapes import Line
    from reportlab.lib.colors import black

    return Line(x1, y1, x2, y2, strokeColor=black, strokeWidth=width)


def _text(x: float, y: float, text: str, *, font: str = REGULAR, anchor: str = "start") -> String:
    from reportlab.graphics.shapes import String
    from reportlab.lib.colors import black

    return String(x, y, text, fontName=font, fontSize=SMALL_SIZE, textAnchor=anchor, fillColor=black)
