"""A picture of one figure against another on paper: black and one grey, full lines measured, dashed ones usual."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from distillery import figures
from distillery.charts.plots import LABELS_ALONG, Plot
from distillery.charts.scales import Scale, ticks
from distillery.printing.layout import Flow, PlainFlow
from distillery.printing.paper import BOLD, REGULAR, SMALL_SIZE, breadth, printable

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

LEFT_OF_SCALE = 36.0
RIGHT_OF_PLOT = 10.0
ABOVE_PLOT = 40.0
BELOW_PLOT = 44.0
PLOT_HEIGHT = 130.0
BAND_GREY = 0.85
GRID_GREY = 0.75
DASH = (4, 3)


@dataclass(frozen=True, slots=True)
class PlotBlock:
    """The picture as a part of a printed record; nothing where nothing was measured."""

    plot: Plot

    def flows(self, width: float) -> Sequence[Flow]:
        return [] if self.plot.is_empty else [PlainFlow([_PlotStrip(self.plot, width)], space_above=8.0)]


@dataclass(frozen=True, slots=True)
class _PlotStrip:
    plot: Plot
    width: float
    keep_with_next: bool = False

    @property
    def height(self) -> float:
        return ABOVE_PLOT + PLOT_HEIGHT + BELOW_PLOT

    def draw(self, canvas: Canvas, left: float, top: float) -> None:
        plot = self.plot
        (first, last), (low, high) = plot.spans
        foot = top - ABOVE_PLOT - PLOT_HEIGHT
        across = Scale(first, last, left + LEFT_OF_SCALE, left + self.width - RIGHT_OF_PLOT)
        up = Scale(low, high, foot, foot + PLOT_HEIGHT)
        canvas.saveState()
        canvas.setFont(BOLD, SMALL_SIZE)
        canvas.drawString(left, top - SMALL_SIZE, printable(plot.title))
        self._band(canvas, across, up)
        self._axes(canvas, across, up, left)
        for number, mark in enumerate(plot.marks):
            x = across.at(mark.at)
            canvas.setLineWidth(0.8)
            canvas.line(x, foot, x, foot + PLOT_HEIGHT)
            words = printable(mark.label)
            over = x + SMALL_SIZE * breadth(words) > left + self.width
            height = foot + PLOT_HEIGHT + 3 + (SMALL_SIZE + 1) * (number % 2)
            (canvas.drawRightString if over else canvas.drawString)(x, height, words)
        self._lines(canvas, across, up, left, foot)
        canvas.restoreState()

    def _band(self, canvas: Canvas, across: Scale, up: Scale) -> None:
        if len(self.plot.band) < 2:
            return
        outline = [(x, high) for x, _, high in self.plot.band] + [(x, low) for x, low, _ in reversed(self.plot.band)]
        path = canvas.beginPath()
        for number, (x, y) in enumerate(outline):
            (path.lineTo if number else path.moveTo)(across.at(x), up.at(y))
        path.close()
        canvas.setFillGray(BAND_GREY)
        canvas.drawPath(path, stroke=0, fill=1)
        canvas.setFillGray(0)

    def _axes(self, canvas: Canvas, across: Scale, up: Scale, left: float) -> None:
        plot, foot = self.plot, up.start
        canvas.setFont(REGULAR, SMALL_SIZE)
        marks = ticks(up.low, up.high, 6)
        canvas.setLineWidth(0.3)
        canvas.setStrokeGray(GRID_GREY)
        for value in marks.values:
            canvas.line(across.start, up.at(value), across.end, up.at(value))
            label = printable(figures.number(value, marks.places))
            canvas.drawRightString(across.start - 3, up.at(value) - SMALL_SIZE / 3, label)
        canvas.setStrokeGray(0)
        canvas.setLineWidth(0.6)
        canvas.line(across.start, foot, across.end, foot)
        if plot.names:
            every = -(-len(plot.names) // LABELS_ALONG)
            along = [(float(place), name) for place, name in enumerate(plot.names, start=1)][::every]
        else:
            steps = ticks(across.low, across.high, 8)
            along = [(value, figures.number(value, steps.places)) for value in steps.values]
        for value, words in along:
            canvas.line(across.at(value), foot, across.at(value), foot - 3)
            canvas.drawCentredString(across.at(value), foot - 4 - SMALL_SIZE, printable(words))
        canvas.drawRightString(across.end, foot - 6 - 2 * SMALL_SIZE, printable(plot.along))
        canvas.drawString(left, foot + PLOT_HEIGHT + 5 + SMALL_SIZE, printable(plot.up))

    def _lines(self, canvas: Canvas, across: Scale, up: Scale, left: float, foot: float) -> None:
        x, below = left + LEFT_OF_SCALE, foot - 8 - 3 * SMALL_SIZE
        for line in self.plot.lines:
            canvas.setLineWidth(0.9)
            canvas.setDash(*DASH if line.dashed else ())
            points = [(across.at(along), up.at(value)) for along, value in line.points]
            for (x1, y1), (x2, y2) in pairwise(points):
                canvas.line(x1, y1, x2, y2)
            canvas.line(x, below + 2, x + 18, below + 2)
            canvas.setDash()
            if not line.dashed or len(points) == 1:
                for at_x, at_y in points:
                    canvas.circle(at_x, at_y, 1.4, stroke=int(line.dashed), fill=int(not line.dashed))
            canvas.drawString(x + 22, below, printable(line.label))
            x += 34 + SMALL_SIZE * breadth(printable(line.label))
        if self.plot.band:
            canvas.setFillGray(BAND_GREY)
            canvas.rect(x, below - 1, 18, SMALL_SIZE, stroke=0, fill=1)
            canvas.setFillGray(0)
            canvas.drawString(x + 22, below, printable(self.plot.band_label))
