"""The curve of a run or a fermentation for the printed record: readings against time, cuts as lines through it.

Each reading is a dot and the dots are joined; where a reading is missing the line has a gap. A cut stands as a
line through the whole height with its name, time and strength; a planned cut is a short tick on the edge of the scale.
Black only. The readings themselves are printed in the table beside it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from django.utils import timezone
from reportlab.graphics import renderPDF
from reportlab.graphics.shapes import Circle, Drawing, Line, PolyLine, String
from reportlab.lib.colors import black
from reportlab.pdfgen.canvas import Canvas

from distillery import figures
from distillery.printing.cut_labels import Label, placed_labels
from distillery.printing.layout import Flow, PlainFlow
from distillery.printing.paper import BOLD, MILLIMETRE, REGULAR, SMALL_SIZE, breadth, printable

LEFT_OF_SCALE = 32.0
RIGHT_OF_PLOT = 14.0
BELOW_PLOT = 16.0
LABEL_ROW = SMALL_SIZE * 1.3
FINEST_SPAN = 0.0005  # five steps of a gravity read to the fourth place
MINUTE_STEPS = (5, 10, 15, 30, 60, 120, 180, 240, 360, 720, 1440, 2880, 10080)
ROOM_OF_A_CLOCK = 40.0
ROOM_OF_A_DAY = 62.0
DAYS_AFTER = timedelta(days=2)


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
        renderPDF.draw(_drawing(self.curve, self.width, self.height), canvas, left, top - self.height)


@dataclass(frozen=True, slots=True)
class _Scales:
    start: datetime
    end: datetime
    lowest: float
    highest: float
    step: float
    plot_top: float
    plot_right: float

    def x(self, at: datetime) -> float:
        whole = (self.end - self.start).total_seconds() or 1.0
        share = (at.astimezone(UTC) - self.start).total_seconds() / whole
        return LEFT_OF_SCALE + share * (self.plot_right - LEFT_OF_SCALE)

    def y(self, value: float) -> float:
        share = (value - self.lowest) / (self.highest - self.lowest)
        return BELOW_PLOT + share * (self.plot_top - BELOW_PLOT)


def _drawing(curve: RunCurve, width: float, height: float) -> Drawing:
    drawing = Drawing(width, height)
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
        if cut.planned is not None and scales.lowest <= cut.planned <= scales.highest:
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
    lowest = min(0.0, *values) if curve.from_zero else min(values)
    highest = max(values)
    step = _round_step(max(highest - lowest, FINEST_SPAN))
    bottom = math.floor(lowest / step + 1e-9) * step
    top = max(math.ceil(highest / step - 1e-9) * step, bottom + step)
    moments = _moments(curve)
    return _Scales(min(moments), max(moments), bottom, top, step, plot_top, plot_right)


def _round_step(span: float) -> float:
    """A step of 1, 2 or 5 times a power of ten that cuts `span` into about five."""
    rough = span / 5
    power = 10.0 ** math.floor(math.log10(rough))
    return next(power * times for times in (1, 2, 5, 10) if rough <= power * times * (1 + 1e-9))


def _draw_axes(drawing: Drawing, scales: _Scales) -> None:
    steps = round((scales.highest - scales.lowest) / scales.step)
    decimals = max(0, -math.floor(math.log10(scales.step) + 1e-9))
    for number in range(steps + 1):
        value = scales.lowest + number * scales.step
        y = scales.y(value)
        drawing.add(_line(LEFT_OF_SCALE, y, scales.plot_right, y, 0.25))
        drawing.add(_text(LEFT_OF_SCALE - 4, y - 2.8, figures.number(value, decimals), anchor="end"))
    drawing.add(_line(LEFT_OF_SCALE, BELOW_PLOT, LEFT_OF_SCALE, scales.plot_top, 0.6))
    for at in _time_ticks(scales):
        x = scales.x(at)
        drawing.add(_line(x, BELOW_PLOT, x, BELOW_PLOT - 3, 0.6))
        drawing.add(_text(x, BELOW_PLOT - 12, _tick_label(at, scales), anchor="middle"))


def _tick_label(at: datetime, scales: _Scales) -> str:
    if scales.end - scales.start > DAYS_AFTER:
        return figures.day(at, year=False)
    return figures.clock(at)


def _time_ticks(scales: _Scales) -> list[datetime]:
    start, end = scales.start, scales.end
    room = ROOM_OF_A_DAY if end - start > DAYS_AFTER else ROOM_OF_A_CLOCK
    most = max(2, int((scales.plot_right - LEFT_OF_SCALE) / room))
    minutes = (end - start).total_seconds() / 60
    # Past two days a label is a date, which would stand there twice with ticks less than a day apart.
    shortest = 1440 if end - start > DAYS_AFTER else 0
    step = next((each for each in MINUTE_STEPS if each >= shortest and minutes / each <= most), None)
    if step is None:
        step = math.ceil(minutes / most / 1440) * 1440
    # From the site's midnight, so that ticks fall on whole hours of its clock. Hours step in UTC, so that the one
    # that comes twice in autumn is two hours wide; days step on the clock, so that each tick is a midnight.
    local = timezone.localtime(start)
    midnight = local.replace(hour=0, minute=0, second=0, microsecond=0)
    if step % 1440:
        midnight = midnight.astimezone(UTC)
    first = math.ceil((start - midnight).total_seconds() / 60 / step) * step
    ticks = []
    at = midnight + timedelta(minutes=first)
    while at <= end:
        ticks.append(at)
        at += timedelta(minutes=step)
    return ticks


def _cut_labels(curve: RunCurve, plot_right: float) -> list[tuple[Cut, str, Label]]:
    moments = _moments(curve)
    scales = _Scales(min(moments), max(moments), 0.0, 1.0, 1.0, 0.0, plot_right)
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
    return Line(x1, y1, x2, y2, strokeColor=black, strokeWidth=width)


def _text(x: float, y: float, text: str, *, font: str = REGULAR, anchor: str = "start") -> String:
    return String(x, y, text, fontName=font, fontSize=SMALL_SIZE, textAnchor=anchor, fillColor=black)
