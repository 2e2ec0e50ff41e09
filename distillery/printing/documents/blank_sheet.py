"""Blank log sheets for when the PC is down: the columns of the screen, empty rows, a serial number on each.

Records kept on loose leaves are numbered in series (HMRC guidance "Keeping records for an excise warehouse"), so
each sheet carries its serial and its place in the count, and a slip at the foot is torn off and kept: to whom
it was issued, when it came back. The rule for putting ink right stands on every page.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from distillery.printing import paper
from distillery.printing.blocks import Block, Caution
from distillery.printing.document import Part, flows_of, print_document, room_for
from distillery.printing.furniture import Furniture, Impression, Site
from distillery.printing.layout import Flow, PlainFlow, Strip, lay_out
from distillery.printing.paper import (
    BOLD,
    FIRM_RULE,
    HAIRLINE,
    LINE,
    MILLIMETRE,
    REGULAR,
    RULE,
    SMALL_SIZE,
    TEXT_SIZE,
    breadth,
    broken,
    fitted,
    printable,
)
from distillery.printing.signing import CorrectionRule

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

ROW_HEIGHT = 8.5 * MILLIMETRE
INSET = 2.0
SLIP_HEIGHT = 19 * MILLIMETRE
MOST_ROWS = 200
SMALLEST_HEAD = 5.0


class BlankSheetError(ValueError):
    """The blank sheet cannot be made as asked; the sentence says why."""


@dataclass(frozen=True, slots=True)
class BlankColumn:
    """A column to write in; widths in millimetres are kept in proportion and stretched to the page."""

    label: str
    unit: str = ""
    width_mm: float = 20.0


@dataclass(frozen=True, slots=True)
class BlankSheet:
    """Sheets to be written on: one for each serial number. `rows` of 0 fills one page of each.

    `heads` are the lines to fill in above the table, `issued_to` is who gets them, where that is known.
    """

    site: Site
    title: str
    columns: tuple[BlankColumn, ...]
    serials: tuple[str, ...]
    rows: int = 0
    heads: tuple[str, ...] = ("Vessel", "Record", "Date", "Shift")
    caution: str = ""
    landscape: bool = True
    issued_to: str = ""


def blank_sheets_pdf(sheet: BlankSheet, impression: Impression) -> bytes:
    """The sheets in the order of their serial numbers.

    Raises BlankSheetError without columns or serials, with a serial given twice, or past 200 rows a sheet.
    """
    if not sheet.columns or not sheet.serials:
        raise BlankSheetError("A blank sheet needs at least one column and one serial number.")
    if len(set(sheet.serials)) != len(sheet.serials):
        raise BlankSheetError("A serial number is given twice. Each sheet needs a number of its own.")
    if not 0 <= sheet.rows <= MOST_ROWS:
        raise BlankSheetError(f"A blank sheet has 1 to {MOST_ROWS} rows, not {sheet.rows}.")
    counted = replace(sheet, rows=sheet.rows or _rows_of_a_page(sheet, impression))
    return print_document([_part(counted, number, impression) for number in range(len(sheet.serials))])


def _part(sheet: BlankSheet, number: int, impression: Impression) -> Part:
    place = f"{number + 1} of {len(sheet.serials)}"
    furniture = Furniture(sheet.site, sheet.title, f"Sheet {sheet.serials[number]}, {place}", 0, impression)
    blocks: list[Block] = [_Heads(sheet.heads)]
    if sheet.caution:
        blocks.append(Caution(sheet.caution))
    blocks.append(_Grid(sheet.columns, sheet.rows))
    foot: list[Block] = [
        CorrectionRule(),
        Slip(f"{sheet.title}, sheet {sheet.serials[number]}, {place}", sheet.issued_to),
    ]
    return Part(furniture, blocks, sheet.landscape, foot)


def _rows_of_a_page(sheet: BlankSheet, impression: Impression) -> int:
    part = _part(replace(sheet, rows=MOST_ROWS), 0, impression)
    first = lay_out(flows_of(part.blocks, part.sheet.inner_width), room_for(part))[0]
    return max(1, sum(isinstance(placed.strip, _EmptyRow) for placed in first.placed))


@dataclass(frozen=True, slots=True)
class _Heads:
    """Labels with a line to write on, as many to a row as there are."""

    labels: tuple[str, ...]

    def flows(self, width: float) -> list[Flow]:
        return [PlainFlow([_HeadsStrip(self.labels, width)])] if self.labels else []


@dataclass(frozen=True, slots=True)
class _HeadsStrip:
    labels: tuple[str, ...]
    width: float
    height: float = 8 * MILLIMETRE
    keep_with_next: bool = True

    def draw(self, canvas: Canvas, left: float, top: float) -> None:
        _lines_to_write_on(canvas, self.labels, left, top - self.height + 4, self.width)


def _lines_to_write_on(canvas: Canvas, labels: Sequence[str], left: float, baseline: float, width: float) -> None:
    each = width / len(labels)
    canvas.setFont(REGULAR, TEXT_SIZE)
    canvas.setLineWidth(RULE)
    for number, label in enumerate(labels):
        x = left + number * each
        shown = printable(label)
        canvas.drawString(x, baseline, shown)
        start = x + breadth(shown, REGULAR) * TEXT_SIZE + 4
        canvas.line(start, baseline - 2, x + each - (0 if number == len(labels) - 1 else 10), baseline - 2)


@dataclass(frozen=True, slots=True)
class _Grid:
    """Empty rows in ruled boxes, the head again on every page."""

    columns: tuple[BlankColumn, ...]
    rows: int

    def flows(self, width: float) -> list[Flow]:
        whole = sum(column.width_mm for column in self.columns)
        edges = [0.0]
        for column in self.columns:
            edges.append(edges[-1] + column.width_mm / whole * width)
        head = _grid_head(self.columns, tuple(edges))
        rows: list[Strip] = [_EmptyRow(tuple(edges)) for _ in range(self.rows)]
        return [_GridFlow([head, *rows], head)]


@dataclass(frozen=True, slots=True)
class _GridFlow:
    strips: Sequence[Strip]
    head: Strip
    space_above: float = 8.0
    foot_height: float = 0.0

    def at_break(self, following: int) -> tuple[Sequence[Strip], Sequence[Strip]]:
        return (), (self.head,)


@dataclass(frozen=True, slots=True)
class _GridHead:
    edges: tuple[float, ...]
    labels: tuple[tuple[str, ...], ...]
    units: tuple[tuple[str, ...], ...]
    size: float
    keep_with_next: bool = True

    @property
    def height(self) -> float:
        tallest = max(len(label) + len(unit) for label, unit in zip(self.labels, self.units, strict=True))
        return tallest * self.size * LINE + 6

    def draw(self, canvas: Canvas, left: float, top: float) -> None:
        for number, edge in enumerate(self.edges[:-1]):
            baseline = top - 3 - self.size
            for font, lines in ((BOLD, self.labels[number]), (REGULAR, self.units[number])):
                canvas.setFont(font, self.size)
                for line in lines:
                    canvas.drawString(left + edge + INSET, baseline, line)
                    baseline -= self.size * LINE
        _draw_boxes(canvas, self.edges, left, top, self.height)
        canvas.setLineWidth(FIRM_RULE)
        canvas.line(left, top - self.height, left + self.edges[-1], top - self.height)


def _grid_head(columns: Sequence[BlankColumn], edges: tuple[float, ...]) -> _GridHead:
    rooms = [edges[number + 1] - edges[number] - 2 * INSET for number in range(len(columns))]
    # No word of a head is cut in two: all heads are set smaller instead.
    fits = [
        fitted(word, BOLD, SMALL_SIZE, SMALLEST_HEAD, room)
        for column, room in zip(columns, rooms, strict=True)
        for word in f"{printable(column.label)} {printable(column.unit)}".split()
    ]
    size = min(fits, default=SMALL_SIZE)
    labels, units = [], []
    for column, room in zip(columns, rooms, strict=True):
        labels.append(tuple(broken(printable(column.label), BOLD, size, room)))
        unit = printable(column.unit)
        units.append(tuple(broken(unit, REGULAR, size, room)) if unit else ())
    return _GridHead(edges, tuple(labels), tuple(units), size)


@dataclass(frozen=True, slots=True)
class _EmptyRow:
    edges: tuple[float, ...]
    height: float = ROW_HEIGHT
    keep_with_next: bool = False

    def draw(self, canvas: Canvas, left: float, top: float) -> None:
        _draw_boxes(canvas, self.edges, left, top, self.height)


def _draw_boxes(canvas: Canvas, edges: Sequence[float], left: float, top: float, height: float) -> None:
    canvas.setLineWidth(HAIRLINE)
    canvas.rect(left, top - height, edges[-1], height, stroke=1, fill=0)
    for edge in edges[1:-1]:
        canvas.line(left + edge, top, left + edge, top - height)


@dataclass(frozen=True, slots=True)
class Slip:
    """The slip that is torn off and kept when the sheet is handed out."""

    text: str
    issued_to: str = ""

    def flows(self, width: float) -> list[Flow]:
        return [PlainFlow([_SlipStrip(self.text, width, f"Issued to {self.issued_to}".strip())])]


@dataclass(frozen=True, slots=True)
class _SlipStrip:
    text: str
    width: float
    issued_to: str
    height: float = SLIP_HEIGHT
    keep_with_next: bool = False

    def draw(self, canvas: Canvas, left: float, top: float) -> None:
        canvas.saveState()
        canvas.setDash(4, 3)
        canvas.setLineWidth(RULE)
        canvas.line(left - paper.LEFT_MARGIN, top - 6, left + self.width + paper.RIGHT_MARGIN, top - 6)
        canvas.restoreState()
        canvas.setFont(BOLD, TEXT_SIZE)
        shown = f"Tear off here and keep: {printable(self.text)}"
        canvas.setFont(BOLD, fitted(shown, BOLD, TEXT_SIZE, 6.0, self.width))
        canvas.drawString(left, top - 20, shown)
        labels = (self.issued_to, "Date", "Returned", "Checked by")
        _lines_to_write_on(canvas, labels, left, top - self.height + 8, self.width)
