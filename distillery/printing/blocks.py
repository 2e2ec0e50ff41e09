"""The parts a printed record is put together from: headings, sentences, lists of values, notes.

Each part says what it holds; `flows(width)` turns it into strips for a page of that width in points. What
people wrote is printed as it is: no sign in it has a meaning to the printer.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

from distillery.printing.layout import Flow, PlainFlow, Strip
from distillery.printing.paper import (
    BOLD,
    FIGURE_SIZE,
    HAIRLINE,
    HEADING_SIZE,
    ITALIC,
    LINE,
    REGULAR,
    RULE,
    SMALL_SIZE,
    TEXT_SIZE,
    breadth,
    broken,
    printable,
)
from distillery.printing.tabled import cells
from distillery.printing.tabled.cells import Line, Piece, Struck

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

BETWEEN_ITEMS = 12.0
LINES_IN_A_PIECE = 24
LABEL_SHARE = 0.5
CAUTION_INSET = 6.0


# A label and its value, broken into lines.
_Laid = tuple[tuple[str, ...], tuple[Line, ...]]


class Block(Protocol):
    """A part of a record that can be cut into strips."""

    def flows(self, width: float) -> Sequence[Flow]: ...


@dataclass(frozen=True, slots=True)
class TextStrip:
    """One line of text."""

    text: str
    font: str = REGULAR
    size: float = TEXT_SIZE
    indent: float = 0.0
    keep_with_next: bool = False
    label: str = ""

    @property
    def height(self) -> float:
        return self.size * LINE

    def draw(self, canvas: Canvas, left: float, top: float) -> None:
        baseline = top - self.size
        if self.label:
            canvas.setFont(BOLD, self.size)
            canvas.drawString(left, baseline, self.label)
        canvas.setFont(self.font, self.size)
        canvas.drawString(left + self.indent, baseline, self.text)


@dataclass(frozen=True, slots=True)
class HeadingStrip:
    """The lines of a heading; whoever draws the page makes it an entry of the reader's list of contents."""

    lines: tuple[str, ...]
    keep_with_next: bool = True

    @property
    def title(self) -> str:
        """The heading in one line."""
        return " ".join(self.lines)

    @property
    def height(self) -> float:
        return len(self.lines) * HEADING_SIZE * LINE + 2

    def draw(self, canvas: Canvas, left: float, top: float) -> None:
        canvas.setFont(BOLD, HEADING_SIZE)
        for number, line in enumerate(self.lines):
            canvas.drawString(left, top - HEADING_SIZE - number * HEADING_SIZE * LINE, line)


@dataclass(frozen=True, slots=True)
class Heading:
    """The heading of a section: never the last thing on a page, and an entry in the reader's list of contents."""

    text: str

    def flows(self, width: float) -> list[Flow]:
        lines = broken(printable(self.text), BOLD, HEADING_SIZE, width)
        return [PlainFlow([HeadingStrip(tuple(lines))], space_above=12.0)]


@dataclass(frozen=True, slots=True)
class Paragraph:
    """Sentences, set across the page; `small` for what is said about the record rather than in it.

    `keep_with_next` keeps short ones on one page with what follows, `closes` with the end of what comes before."""

    text: str
    font: str = REGULAR
    small: bool = False
    space_above: float = 4.0
    keep_with_next: bool = False
    closes: bool = False

    def flows(self, width: float) -> list[Flow]:
        size = SMALL_SIZE if self.small else TEXT_SIZE
        lines = broken(printable(self.text), self.font, size, width)
        strips = [
            TextStrip(line, self.font, size, keep_with_next=_kept(n, lines) or self.keep_with_next)
            for n, line in enumerate(lines)
        ]
        return [PlainFlow(strips, self.space_above)]


def _kept(number: int, lines: Sequence[str]) -> bool:
    # Neither the first line nor the last stands alone on a page.
    return number < len(lines) - 1 and (number == 0 or number == len(lines) - 2)


@dataclass(frozen=True, slots=True)
class Item:
    """One labelled value; `struck_old` is what was written first, `mark` the letter of its footnote."""

    label: str
    value: str
    unit: str = ""
    struck_old: str = ""
    mark: str = ""


@dataclass(frozen=True, slots=True)
class _ItemsStrip:
    items: tuple[_Laid, ...]
    label_width: float
    part_width: float
    keep_with_next: bool = False

    @property
    def height(self) -> float:
        tallest = max(max(len(label), len(value)) for label, value in self.items)
        return tallest * FIGURE_SIZE * LINE + 2

    def draw(self, canvas: Canvas, left: float, top: float) -> None:
        for position, (label, value) in enumerate(self.items):
            x = left + position * (self.part_width + BETWEEN_ITEMS)
            baseline = top - FIGURE_SIZE
            canvas.setFont(REGULAR, TEXT_SIZE)
            for number, text in enumerate(label):
                canvas.drawString(x, baseline - number * FIGURE_SIZE * LINE, text)
            canvas.setFont(BOLD, FIGURE_SIZE)
            for number, line in enumerate(value):
                cells.draw_line(
                    canvas,
                    line,
                    x + self.label_width,
                    self.part_width - self.label_width,
                    baseline - number * FIGURE_SIZE * LINE,
                    align="left",
                    font=BOLD,
                    size=FIGURE_SIZE,
                )
            canvas.setLineWidth(HAIRLINE)
            canvas.line(x, top - self.height + 0.8, x + self.part_width, top - self.height + 0.8)


@dataclass(frozen=True, slots=True)
class ItemList:
    """Labelled values, `across` to a row, read from left to right; values in bold beside their labels."""

    items: tuple[Item, ...]
    across: int = 2
    space_above: float = 4.0

    def flows(self, width: float) -> list[Flow]:
        if not self.items:
            return []
        part = (width - (self.across - 1) * BETWEEN_ITEMS) / self.across
        widest = max(breadth(printable(item.label), REGULAR) for item in self.items) * TEXT_SIZE + 8
        label_width = min(widest, part * LABEL_SHARE)
        strips = []
        for start in range(0, len(self.items), self.across):
            group = self.items[start : start + self.across]
            laid = tuple(self._laid(item, label_width, part - label_width) for item in group)
            strips += [_ItemsStrip(piece, label_width, part) for piece in _pieces(laid)]
        return [PlainFlow(strips, self.space_above)]

    def _laid(self, item: Item, label_width: float, width: float) -> _Laid:
        label = tuple(broken(printable(item.label), REGULAR, TEXT_SIZE, label_width - 6))
        value = f"{item.value} {item.unit}" if item.unit else item.value
        cell: str | Struck = value
        if item.struck_old:
            cell = Struck(item.struck_old, value, item.mark)
        lines = cells.lines_of(cell, None, "", BOLD, FIGURE_SIZE, width)
        if item.mark and not item.struck_old:
            mark = Piece(printable(item.mark), breadth(printable(item.mark), BOLD), raised=True)
            lines[-1] = (*lines[-1], mark)
        return label, tuple(lines)


def _pieces(laid: Sequence[_Laid]) -> list[tuple[_Laid, ...]]:
    """A value longer than a page could never be placed whole: it goes on under itself, on the next page if need be."""
    tallest = max(max(len(label), len(lines)) for label, lines in laid)
    cuts = [slice(first, first + LINES_IN_A_PIECE) for first in range(0, max(tallest, 1), LINES_IN_A_PIECE)]
    return [tuple((label[cut], lines[cut]) for label, lines in laid) for cut in cuts]


@dataclass(frozen=True, slots=True)
class Note:
    """A footnote: its letter and what it says."""

    mark: str
    text: str


@dataclass(frozen=True, slots=True)
class Notes:
    """Footnotes in their order, the letters standing out to the left."""

    notes: tuple[Note, ...]

    def flows(self, width: float) -> list[Flow]:
        flows: list[Flow] = []
        widest = max((breadth(printable(note.mark), BOLD) for note in self.notes), default=0.0)
        indent = max(14.0, widest * TEXT_SIZE + 6)
        for note in self.notes:
            lines = broken(printable(note.text), REGULAR, TEXT_SIZE, width - indent)
            strips: list[Strip] = [
                TextStrip(
                    line,
                    indent=indent,
                    keep_with_next=_kept(number, lines),
                    label=printable(note.mark) if number == 0 else "",
                )
                for number, line in enumerate(lines)
            ]
            flows.append(PlainFlow(strips, space_above=2.0))
        return flows


@dataclass(frozen=True, slots=True)
class _CautionStrip:
    lines: tuple[str, ...]
    width: float
    keep_with_next: bool = False

    @property
    def height(self) -> float:
        return len(self.lines) * TEXT_SIZE * LINE + 2 * CAUTION_INSET

    def draw(self, canvas: Canvas, left: float, top: float) -> None:
        canvas.setLineWidth(RULE)
        canvas.rect(left, top - self.height, self.width, self.height, stroke=1, fill=0)
        canvas.setFont(BOLD, TEXT_SIZE)
        baseline = top - CAUTION_INSET - TEXT_SIZE * 0.92
        canvas.drawString(left + CAUTION_INSET, baseline, "Caution")
        canvas.setFont(ITALIC, TEXT_SIZE)
        indent = _caution_indent()
        for number, line in enumerate(self.lines):
            canvas.drawString(left + indent, baseline - number * TEXT_SIZE * LINE, line)


def _caution_indent() -> float:
    return CAUTION_INSET + breadth("Caution", BOLD) * TEXT_SIZE + 10


@dataclass(frozen=True, slots=True)
class Caution:
    """A warning in a box, where the work recorded can hurt someone."""

    text: str

    def flows(self, width: float) -> list[Flow]:
        room = width - _caution_indent() - CAUTION_INSET
        lines = broken(printable(self.text), ITALIC, TEXT_SIZE, room)
        return [PlainFlow([_CautionStrip(tuple(lines), width)], space_above=8.0)]
