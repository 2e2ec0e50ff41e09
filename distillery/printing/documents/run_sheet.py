"""A run on one landscape page: what it is, what was measured, readings beside their curve, the balance, corrections.

One layout for every run; what stands in it is declared by the sheet of the step. It is set as large as fits one page.
Nothing is left out to make it fit: a run with more readings than a page holds goes on over the next.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from distillery.printing.beside import Beside
from distillery.printing.blocks import Block, Item, Paragraph, TextStrip
from distillery.printing.drawn.curve import RunCurve
from distillery.printing.layout import Flow, PlainFlow
from distillery.printing.paper import (
    BOLD,
    FIRM_RULE,
    LINE,
    REGULAR,
    RULE,
    SMALL_SIZE,
    breadth,
    broken,
    fitted,
    printable,
)
from distillery.printing.tabled import cells
from distillery.printing.tabled.cells import Line, Piece, Struck
from distillery.printing.tabled.tables import FigureTable, SmallTable

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

BETWEEN = 12.0
MOST_ROWS = 9
READINGS_SHARE = 0.42
FIRST_OF_TWO = 0.29
MOST_BOXES = 9
BOX_HEIGHT = 23.0
# Letters of the small print beside the figures of the tables.
LARGER_BY = 0.5


@dataclass(frozen=True, slots=True)
class Setting:
    """How large a run is set: figures of its tables in points, height of its curve in millimetres."""

    figures: float
    curve_mm: float


# From the largest to the smallest; the last is used where none fits one page.
SETTINGS = (
    Setting(8.5, 52.0),
    Setting(8.0, 42.0),
    Setting(7.5, 36.0),
    Setting(7.0, 32.0),
    Setting(6.5, 28.0),
    Setting(6.0, 26.0),
)


@dataclass(frozen=True, slots=True)
class RunLayout:
    """What stands on the page of a run: `facts` in a line, `measured` vessel by vessel, `balance` in boxes, and what is
    `said` of it in small print: where it came from and where it went."""

    facts: tuple[Item, ...]
    measured: FigureTable | None
    balance: tuple[Item, ...]
    said: tuple[str, ...]


def run_blocks(run: RunLayout, readings: FigureTable | None, curve: RunCurve | None, setting: Setting) -> list[Block]:
    """The blocks of the page down to its balance."""
    blocks: list[Block] = [RunFacts(run.facts)]
    if run.measured is not None:
        blocks += [_small_head("Measured"), _small(run.measured, run.measured.rows, setting)]
    if readings is not None:
        blocks += [_small_head("Readings"), *_readings(readings, curve, setting)]
    if run.balance:
        blocks += [_small_head("Balance, litres of pure alcohol"), Boxes(run.balance)]
    return blocks


def small_print(sentences: Sequence[str], setting: Setting, *, stays: bool = False) -> list[Block]:
    """Paragraphs of the page's foot, one under another; what `stays` is kept on one page with what follows."""
    size = min(SMALL_SIZE, setting.figures + LARGER_BY)
    return [SmallPrint(sentence, size, stays) for sentence in sentences if sentence]


@dataclass(frozen=True, slots=True)
class SmallPrint:
    """Sentences in letters of `size` points."""

    text: str
    size: float
    stays: bool = False

    def flows(self, width: float) -> list[Flow]:
        lines = broken(printable(self.text), REGULAR, self.size, width)
        strips = [TextStrip(line, size=self.size, keep_with_next=self.stays) for line in lines]
        return [PlainFlow(strips, space_above=1.5)]


def _small(table: FigureTable, rows: Sequence[tuple[cells.Cell, ...]], setting: Setting) -> SmallTable:
    return SmallTable(table.columns, rows, none=table.none, space_above=0.0, size=setting.figures)


def _readings(readings: FigureTable, curve: RunCurve | None, setting: Setting) -> list[Block]:
    drawn = [] if curve is None else [replace(curve, height_mm=setting.curve_mm)]
    rows = readings.rows
    if len(rows) <= MOST_ROWS:
        small = _small(readings, rows, setting)
        return [Beside([small], drawn, READINGS_SHARE)] if drawn else [small]
    half = -(-len(rows) // 2)
    first, second = (_small(readings, part, setting) for part in (rows[:half], rows[half:]))
    return [Beside([first], [Beside([second], drawn, READINGS_SHARE)] if drawn else [second], FIRST_OF_TWO)]


def _small_head(text: str) -> Paragraph:
    return Paragraph(text, BOLD, small=True, space_above=4.0, keep_with_next=True)


@dataclass(frozen=True, slots=True)
class _FactsStrip:
    pairs: tuple[tuple[Line, Line], ...]
    height: float = SMALL_SIZE * LINE + 1
    keep_with_next: bool = False

    def draw(self, canvas: Canvas, left: float, top: float) -> None:
        x, baseline = left, top - SMALL_SIZE
        for label, value in self.pairs:
            for line, font in ((label, REGULAR), (value, BOLD)):
                canvas.setFont(font, SMALL_SIZE)
                cells.draw_line(canvas, line, x, 0.0, baseline, align="left", font=font, size=SMALL_SIZE)
                x += _length(line) + 3
            x += BETWEEN - 6


@dataclass(frozen=True, slots=True)
class RunFacts:
    """Labels with their values in bold, one after another as they fit the line."""

    items: tuple[Item, ...]

    def flows(self, width: float) -> list[Flow]:
        lines: list[list[tuple[Line, Line]]] = [[]]
        used = 0.0
        for item in self.items:
            for pair in _pairs(item, width):
                length = sum(_length(line) for line in pair) + BETWEEN
                if lines[-1] and used + length - BETWEEN > width:
                    lines.append([])
                    used = 0.0
                lines[-1].append(pair)
                used += length
        return [PlainFlow([_FactsStrip(tuple(line)) for line in lines], space_above=2.0)] if lines[0] else []


def _pairs(item: Item, width: float) -> list[tuple[Line, Line]]:
    """A label and its value; a value longer than the line goes on without a label."""
    label = printable(item.label)
    value = f"{item.value} {item.unit}".strip()
    cell: str | Struck = Struck(item.struck_old, value, item.mark) if item.struck_old else value
    head: Line = (Piece(label, breadth(label, REGULAR)),)
    room = max(width - _length(head) - BETWEEN, width / 4)
    first, *more = cells.lines_of(cell, None, "", BOLD, SMALL_SIZE, room)
    nothing: Line = (Piece("", 0.0),)
    return [(head, first), *((nothing, line) for line in more)]


def _length(line: Line) -> float:
    return sum(piece.ems for piece in line) * SMALL_SIZE


@dataclass(frozen=True, slots=True)
class _BoxesStrip:
    items: tuple[Item, ...]
    width: float
    height: float = BOX_HEIGHT
    keep_with_next: bool = False

    def draw(self, canvas: Canvas, left: float, top: float) -> None:
        each = self.width / len(self.items)
        canvas.setLineWidth(RULE)
        canvas.line(left, top, left + self.width, top)
        canvas.setLineWidth(FIRM_RULE)
        canvas.line(left, top - self.height + 1, left + self.width, top - self.height + 1)
        for number, item in enumerate(self.items):
            right = left + (number + 1) * each - 4
            label, value = printable(item.label), printable(item.value)
            canvas.setFont(REGULAR, fitted(label, REGULAR, SMALL_SIZE, 5.0, each - 6))
            canvas.drawRightString(right, top - 9.5, label)
            canvas.setFont(BOLD, fitted(value, BOLD, 10.0, 6.0, each - 6))
            canvas.drawRightString(right, top - 21, value)


@dataclass(frozen=True, slots=True)
class Boxes:
    """Figures in bold under their labels, side by side between two rules."""

    items: tuple[Item, ...]

    def flows(self, width: float) -> list[Flow]:
        if not self.items:
            return []
        rows = -(-len(self.items) // MOST_BOXES)
        each = -(-len(self.items) // rows)
        cut = [self.items[start : start + each] for start in range(0, len(self.items), each)]
        return [PlainFlow([_BoxesStrip(row, width) for row in cut], space_above=2.0)]
