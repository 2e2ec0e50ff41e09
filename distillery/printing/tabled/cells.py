"""What stands in a cell of a printed record, as lines of pieces: plain, struck through, or a raised footnote letter.

A value that was struck stays readable: it prints with a line through it and its footnote letter, and the value
that stands now beside it, or beneath where the cell is narrow. Widths of pieces are ems until they are drawn.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, NamedTuple

from distillery.printing.paper import BOLD, REGULAR, SLACK, breadth, broken, printable

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

Align = Literal["left", "right", "centre"]
NOT_TAKEN = "Not taken"
BETWEEN_EMS = 0.35
RAISED_SHARE = 0.68


@dataclass(frozen=True, slots=True)
class Struck:
    """A value put right: what was written first, what stands now, and the letter of the footnote that says why."""

    old: str
    new: str | int | None
    mark: str = ""


Cell = str | int | Struck | None
Figure = Callable[[int], str]


class Piece(NamedTuple):
    text: str
    ems: float
    struck: bool = False
    raised: bool = False


Line = tuple[Piece, ...]


def plain_figure(value: int) -> str:
    """A whole number with commas, for columns that name no other way."""
    return f"{value:,}"


def written(value: str | int | None, figure: Figure | None, missing: str) -> str:
    """The text of a value that stands: figures by `figure`, an absent value as the word `missing`."""
    if value is None:
        return missing
    if isinstance(value, int):
        return printable((figure or plain_figure)(value))
    return printable(value)


def standing(cell: Cell) -> str | int | None:
    """The value that counts: of a struck one, the new."""
    return cell.new if isinstance(cell, Struck) else cell


def natural_ems(cell: Cell, figure: Figure | None, missing: str, font: str) -> float:
    """Width in ems of the widest line the cell needs if nothing in it is broken."""
    now = written(standing(cell), figure, missing)
    ems = max(breadth(part, font) for part in now.split("\n")) if "\n" in now else breadth(now, font)
    if isinstance(cell, Struck):
        ems = max(ems, breadth(printable(cell.old), font) + _mark_ems(cell.mark))
    return ems


def lines_of(cell: Cell, figure: Figure | None, missing: str, font: str, size: float, width: float) -> list[Line]:
    """The cell as lines no wider than `width` points at `size`."""
    now = written(standing(cell), figure, missing)
    if not isinstance(cell, Struck):
        if "\n" not in now and (ems := breadth(now, font)) * size <= width + SLACK:
            return [(Piece(now, ems),)]
        return [(Piece(line, breadth(line, font)),) for line in broken(now, font, size, width)]
    return _struck_lines(cell, now, font, size, width)


def _struck_lines(cell: Struck, now: str, font: str, size: float, width: float) -> list[Line]:
    old = printable(cell.old)
    mark = Piece(printable(cell.mark), _mark_ems(cell.mark), raised=True)
    gone = Piece(old, breadth(old, font), struck=True)
    new = Piece(now, breadth(now, font))
    if "\n" not in now + old and (gone.ems + mark.ems + BETWEEN_EMS + new.ems) * size <= width + SLACK:
        return [(gone, mark, Piece("", BETWEEN_EMS), new)]
    old_lines: list[Line] = [
        (Piece(line, breadth(line, font), struck=True),) for line in broken(old, font, size, width - mark.ems * size)
    ]
    old_lines[-1] = (*old_lines[-1], mark)
    return old_lines + [(Piece(line, breadth(line, font)),) for line in broken(now, font, size, width)]


def _mark_ems(mark: str) -> float:
    return breadth(printable(mark), BOLD) * RAISED_SHARE + 0.1 if mark else 0.0


def draw_line(
    canvas: Canvas,
    line: Line,
    left: float,
    width: float,
    baseline: float,
    *,
    align: Align,
    font: str = REGULAR,
    size: float,
) -> None:
    """Draws one line of a cell, `font` at `size` being already set on the canvas (and set again if left)."""
    length = line[0].ems * size if len(line) == 1 else sum(piece.ems for piece in line) * size
    x = left
    if align == "right":
        x = left + width - length
    elif align == "centre":
        x = left + (width - length) / 2
    for piece in line:
        if piece.raised:
            canvas.setFont(BOLD, size * RAISED_SHARE)
            canvas.drawString(x + 0.1 * size, baseline + size * 0.35, piece.text)
            canvas.setFont(font, size)
        elif piece.text:
            canvas.drawString(x, baseline, piece.text)
        if piece.struck:
            canvas.setLineWidth(0.9)
            canvas.line(x - 0.5, baseline + size * 0.3, x + piece.ems * size + 0.5, baseline + size * 0.3)
        x += piece.ems * size
