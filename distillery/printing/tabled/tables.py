"""Tables of figures: heads on every page, rows never split, sums carried forward and brought forward.

A table is cut by page from the start and each page draws its own rows, so ten thousand rows cost ten times a
thousand. Figures stand to the right in equally wide digits; a hairline parts the rows and every fifth is firmer.
A column marked `carried` is added up in whole numbers at each foot and taken on at the next head.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate
from typing import TYPE_CHECKING

from distillery.printing import paper
from distillery.printing.layout import Flow, PlainFlow, Strip
from distillery.printing.paper import (
    BOLD,
    FIGURE_SIZE,
    FIRM_RULE,
    HAIRLINE,
    LINE,
    REGULAR,
    RULE,
    SMALL_SIZE,
    breadth,
    broken,
    printable,
)
from distillery.printing.tabled import cells
from distillery.printing.tabled.cells import Cell, Line
from distillery.printing.tabled.columns import BROUGHT_FORWARD, Column, Measured, TableError, measure, whole

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

LINES_IN_A_PIECE = 24
EVERY_FIFTH = 5
ROWS_NOT_PARTED = 8
CARRIED_FORWARD = "Carried forward"


@dataclass(frozen=True, slots=True)
class FigureTable:
    """Columns, rows of as many cells, and if wanted a row of totals in bold; a caption above the head.

    A table without rows prints the sentence `none` in their place.
    """

    columns: tuple[Column, ...]
    rows: Sequence[tuple[Cell, ...]]
    total: tuple[Cell, ...] | None = None
    caption: str = ""
    none: str = "None."
    space_above: float = 3.0

    def flows(self, width: float) -> list[Flow]:
        """Raises TableError where a row has not a cell for each column, a carried cell is no whole number, or
        the columns do not fit the page."""
        _check(self)
        if not self.rows and self.total is None:
            said = [*_captions(self.caption, BOLD, width), *_captions(self.none, REGULAR, width)]
            return [PlainFlow(said, self.space_above)]
        return [_flow(self, width)]

    @property
    def largest(self) -> float:
        """Size of its figures in points, where they fit."""
        return FIGURE_SIZE


@dataclass(frozen=True, slots=True)
class SmallTable(FigureTable):
    """The same set small and close, figures of `size` points, for a sheet that is to stand on one page."""

    size: float = SMALL_SIZE

    @property
    def largest(self) -> float:
        """As for any table."""
        return self.size


def summed(
    label: str, columns: Sequence[Column], rows: Sequence[tuple[Cell, ...]], blank: str = ""
) -> tuple[Cell, ...]:
    """A row of totals: `label` first, the carried columns added up, the rest `blank`."""
    total: list[Cell] = [label]
    for number, column in enumerate(columns[1:], start=1):
        total.append(sum(whole(row[number]) for row in rows) if column.carried else blank)
    return tuple(total)


def _check(table: FigureTable) -> None:
    if not table.columns:
        raise TableError("A table needs at least one column.")
    for number, row in enumerate([*table.rows, *([table.total] if table.total else [])], start=1):
        if len(row) != len(table.columns):
            raise TableError(f"Row {number} of the table has {len(row)} cells for {len(table.columns)} columns.")
    if table.columns[0].carried:
        raise TableError("The first column says 'Carried forward' at a page break and cannot be added up itself.")


def _captions(text: str, font: str, width: float) -> list[Strip]:
    """A caption on as many lines as it needs; none where it is blank."""
    lines = broken(printable(text), font, paper.TEXT_SIZE, width) if text else []
    return [_Caption(line, font) for line in lines]


@dataclass(frozen=True, slots=True)
class _Caption:
    text: str
    font: str

    @property
    def height(self) -> float:
        return paper.TEXT_SIZE * LINE + 2

    @property
    def keep_with_next(self) -> bool:
        return self.font == BOLD

    def draw(self, canvas: Canvas, left: float, top: float) -> None:
        canvas.setFont(self.font, paper.TEXT_SIZE)
        canvas.drawString(left, top - paper.TEXT_SIZE, self.text)


@dataclass(frozen=True, slots=True)
class _Head:
    measured: Measured
    labels: tuple[tuple[str, ...], ...]
    units: tuple[tuple[str, ...], ...]
    height: float
    keep_with_next: bool = True

    def draw(self, canvas: Canvas, left: float, top: float) -> None:
        bottom = top - self.height
        step = SMALL_SIZE * LINE
        for number, column in enumerate(self.measured.columns):
            baseline = bottom + 3.5 + (len(self.labels[number]) + len(self.units[number]) - 1) * step
            for font, texts in ((BOLD, self.labels[number]), (REGULAR, self.units[number])):
                canvas.setFont(font, SMALL_SIZE)
                for text in texts:
                    line = (cells.Piece(text, breadth(text, font)),)
                    cells.draw_line(
                        canvas,
                        line,
                        left + self.measured.lefts[number],
                        self.measured.widths[number],
                        baseline,
                        align=column.align,
                        font=font,
                        size=SMALL_SIZE,
                    )
                    baseline -= step
        canvas.setLineWidth(RULE)
        canvas.line(left, bottom, left + self.measured.right, bottom)


@dataclass(frozen=True, slots=True)
class _Row:
    measured: Measured
    cell_lines: list[list[Line]]
    height: float
    font: str = REGULAR
    keep_with_next: bool = False
    rule_above: float = 0.0
    rule_below: float = HAIRLINE

    def draw(self, canvas: Canvas, left: float, top: float) -> None:
        measured = self.measured
        size = measured.size
        canvas.setFont(self.font, size)
        first = top - measured.padding - size * 0.98
        step = measured.line_height
        for number, column in enumerate(measured.columns):
            baseline = first
            for line in self.cell_lines[number]:
                cells.draw_line(
                    canvas,
                    line,
                    left + measured.lefts[number],
                    measured.widths[number],
                    baseline,
                    align=column.align,
                    font=self.font,
                    size=size,
                )
                baseline -= step
        right = left + measured.right
        if self.rule_above:
            canvas.setLineWidth(self.rule_above)
            canvas.line(left, top, right, top)
        if self.rule_below:
            canvas.setLineWidth(self.rule_below)
            canvas.line(left, top - self.height, right, top - self.height)


@dataclass(frozen=True, slots=True)
class _TableFlow:
    table: FigureTable
    width: float
    measured: Measured
    strips: Sequence[Strip]
    opening: int
    row_of_strip: Sequence[int]
    sums: dict[int, list[int]]
    head: _Head

    @property
    def space_above(self) -> float:
        return self.table.space_above

    @property
    def foot_height(self) -> float:
        return self._sum_row(CARRIED_FORWARD, 0).height if self.sums else 0.0

    def at_break(self, following: int) -> tuple[Sequence[Strip], Sequence[Strip]]:
        if following < self.opening:
            return (), ()
        caption = f"{self.table.caption}, continued" if self.table.caption else ""
        again: list[Strip] = [*_captions(caption, BOLD, self.width), self.head]
        done = self.row_of_strip[following - self.opening]
        if not self.sums or following == self.opening:
            return (), again
        return [self._sum_row(CARRIED_FORWARD, done)], [*again, self._sum_row(BROUGHT_FORWARD, done)]

    def _sum_row(self, label: str, rows_done: int) -> _Row:
        row: list[Cell] = [label, *("" for _ in self.measured.columns[1:])]
        for column, running in self.sums.items():
            row[column] = running[rows_done]
        return _row(self.measured, self.measured.lines(row, BOLD), BOLD, rule_above=RULE, rule_below=RULE)


def _flow(table: FigureTable, width: float) -> _TableFlow:
    measured = measure(table.columns, table.rows, table.total, width, largest=table.largest)
    head = _head(measured)
    opening: list[Strip] = [*_captions(table.caption, BOLD, width), head]
    strips: list[Strip] = []
    row_of_strip: list[int] = []
    last = len(table.rows) - 1
    stays_whole = len(table.rows) <= ROWS_NOT_PARTED
    for number, row in enumerate(table.rows):
        firm = RULE if (number + 1) % EVERY_FIFTH == 0 else HAIRLINE
        keep = (stays_whole and number < last) or (number == last and table.total is not None)
        pieces = _pieces(measured.lines(row, REGULAR))
        for piece in pieces:
            end = piece is pieces[-1]
            strips.append(_row(measured, piece, keep=keep and end, rule_below=firm if end else 0.0))
            row_of_strip.append(number if piece is pieces[0] else number + 1)
    if table.total is not None:
        lines = measured.lines(table.total, BOLD)
        strips.append(_row(measured, lines, BOLD, rule_above=RULE, rule_below=FIRM_RULE))
        row_of_strip.append(len(table.rows))
    sums = {
        number: list(accumulate((whole(row[number]) for row in table.rows), initial=0))
        for number, column in enumerate(table.columns)
        if column.carried
    }
    return _TableFlow(table, width, measured, [*opening, *strips], len(opening), row_of_strip, sums, head)


def _row(
    measured: Measured,
    cell_lines: list[list[Line]],
    font: str = REGULAR,
    *,
    keep: bool = False,
    rule_above: float = 0.0,
    rule_below: float = HAIRLINE,
) -> _Row:
    tallest = max(map(len, cell_lines))
    height = tallest * measured.line_height + 2 * measured.padding
    return _Row(measured, cell_lines, height, font, keep, rule_above, rule_below)


def _pieces(cell_lines: list[list[Line]]) -> list[list[list[Line]]]:
    # A remark longer than a page could never be placed whole: only such a row goes on in a second piece.
    tallest = max(map(len, cell_lines))
    return [
        [lines[start : start + LINES_IN_A_PIECE] for lines in cell_lines]
        for start in range(0, tallest, LINES_IN_A_PIECE)
    ]


def _head(measured: Measured) -> _Head:
    labels, units = [], []
    for column, width in zip(measured.columns, measured.widths, strict=True):
        labels.append(tuple(broken(printable(column.label), BOLD, SMALL_SIZE, width)))
        unit = printable(column.unit)
        units.append(tuple(broken(unit, REGULAR, SMALL_SIZE, width)) if unit else ())
    tallest = max(len(label) + len(unit) for label, unit in zip(labels, units, strict=True))
    return _Head(measured, tuple(labels), tuple(units), tallest * SMALL_SIZE * LINE + 5)
