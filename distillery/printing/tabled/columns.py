"""The columns of a printed table: what their heads say, and how wide each becomes on the page.

A column is as wide as its widest cell or the longest word of its head. Where that is too much for the page the
texts are narrowed and break into lines; where that is not enough all cells are set smaller, down to a limit.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate

from distillery.printing import paper
from distillery.printing.paper import BOLD, FIGURE_SIZE, LINE, REGULAR, SMALL_SIZE, breadth, printable
from distillery.printing.tabled import cells
from distillery.printing.tabled.cells import Align, Cell, Figure, Line

PADDING = 3.5
# Above and below the lines of a row, and of one that is set small.
ROW_PADDING = 1.6
TIGHT_PADDING = 0.6
AFTER_FIGURES = 12.0
SMALLEST_FIGURE = 6.0
SMALLER_BY = 0.5
NARROWEST_TEXT = 44.0
LONGEST_WORD_SHARE = 0.3
WIDEST_SPREAD = 22.0
BROUGHT_FORWARD = "Brought forward"


class TableError(ValueError):
    """The table cannot be printed as asked; the sentence says why."""


@dataclass(frozen=True, slots=True)
class Column:
    """One column: label and unit for its head, where its cells stand, how whole numbers in it are written.

    `width_mm` fixes the width, else the content decides. `figure` writes an int. `carried` adds the column up
    at page breaks (every cell then a whole number). `missing` stands where a cell is None.
    """

    label: str
    unit: str = ""
    align: Align = "left"
    width_mm: float | None = None
    figure: Figure | None = None
    carried: bool = False
    missing: str = cells.NOT_TAKEN


def figure_column(
    label: str, figure: Figure | None = None, *, unit: str = "", carried: bool = False, missing: str = "none"
) -> Column:
    """A column of figures, to the right."""
    return Column(label, unit, "right", None, figure, carried, missing)


def whole(cell: Cell) -> int:
    """The whole number that stands in a cell of a carried column, nought where it has none; raises TableError for
    anything else."""
    value = cells.standing(cell)
    if value is None:
        return 0
    if not isinstance(value, int):
        raise TableError(f"Only whole numbers can be added up and carried forward, not {value!r}.")
    return value


@dataclass(frozen=True, slots=True)
class Measured:
    """A table's columns once their widths are known."""

    columns: tuple[Column, ...]
    lefts: tuple[float, ...]
    widths: tuple[float, ...]
    size: float
    right: float
    padding: float

    def lines(self, row: Sequence[Cell], font: str) -> list[list[Line]]:
        return [
            cells.lines_of(cell, column.figure, column.missing, font, self.size, width)
            for column, cell, width in zip(self.columns, row, self.widths, strict=True)
        ]

    @property
    def line_height(self) -> float:
        return self.size * LINE


def measure(
    columns: tuple[Column, ...],
    rows: Sequence[tuple[Cell, ...]],
    total: tuple[Cell, ...] | None,
    width: float,
    *,
    largest: float = FIGURE_SIZE,
) -> Measured:
    """The widths of the columns; figures are at most `largest` points, and set closer where that is small."""
    natural = _natural_ems(columns, rows, total)
    widths = _widths(columns, natural, natural, largest, width, whole_heads=True)
    size = largest
    words = natural if sum(widths) <= width + paper.SLACK else _longest_word_ems(columns, rows, total)
    while sum(widths) > width + paper.SLACK:
        widths = _widths(columns, natural, words, size, width)
        if sum(widths) > width + paper.SLACK:
            size -= SMALLER_BY
        if size < SMALLEST_FIGURE:
            raise TableError(
                f"The {len(columns)} columns need {sum(widths) / paper.MILLIMETRE:.0f} mm and the page "
                f"has {width / paper.MILLIMETRE:.0f} mm. Print it landscape or with fewer columns."
            )
    spread = 0.0
    if all(column.width_mm is None for column in columns):
        spread = min(WIDEST_SPREAD, (width - sum(widths)) / len(widths))
    edges = list(accumulate((each + spread for each in widths), initial=0.0))
    lefts = [edge + pad for edge, pad in zip(edges[:-1], _left_padding(columns), strict=True)]
    rights = [edge - PADDING for edge in edges[1:]]
    # The first column starts and the last ends where the headings and rules do.
    lefts[0], rights[-1] = edges[0], edges[-1]
    each_width = tuple(right - left for left, right in zip(lefts, rights, strict=True))
    padding = ROW_PADDING if largest >= FIGURE_SIZE else TIGHT_PADDING
    return Measured(columns, tuple(lefts), each_width, size, edges[-1], padding)


def _natural_ems(
    columns: Sequence[Column], rows: Sequence[tuple[Cell, ...]], total: tuple[Cell, ...] | None
) -> list[float]:
    natural = []
    for number, column in enumerate(columns):
        if column.width_mm is not None:
            natural.append(0.0)
            continue
        wide = [cells.natural_ems(row[number], column.figure, column.missing, REGULAR) for row in rows]
        if total is not None:
            wide.append(cells.natural_ems(total[number], column.figure, column.missing, BOLD))
        if column.carried:
            # A sum on the way may be wider than the last one where gains and losses take turns.
            running = list(accumulate(whole(row[number]) for row in rows))
            extremes = (min(running), max(running)) if running else ()
            wide += [cells.natural_ems(sum_, column.figure, column.missing, BOLD) for sum_ in extremes]
        elif number == 0 and any(other.carried for other in columns):
            wide.append(breadth(BROUGHT_FORWARD, BOLD))
        natural.append(max(wide, default=0.0))
    return natural


def _longest_word_ems(
    columns: Sequence[Column], rows: Sequence[tuple[Cell, ...]], total: tuple[Cell, ...] | None
) -> list[float]:
    """Width of the longest single word of each column of texts, in the bold of a total to be safe."""
    longest = []
    for number, column in enumerate(columns):
        if column.align != "left" or column.width_mm is not None:
            longest.append(0.0)
            continue
        words: set[str] = {BROUGHT_FORWARD.split()[0]} if any(other.carried for other in columns) else set()
        for row in [*rows, *([total] if total else [])]:
            cell = row[number]
            texts = [cells.written(cells.standing(cell), column.figure, column.missing)]
            texts += [printable(cell.old)] if isinstance(cell, cells.Struck) else []
            words.update(word for text in texts for word in text.split())
        longest.append(max((breadth(word, BOLD) for word in words), default=0.0))
    return longest


def _left_padding(columns: Sequence[Column]) -> list[float]:
    """A text that follows figures stands further off, or the two would read as one."""
    before = ["left", *(column.align for column in columns[:-1])]
    return [
        AFTER_FIGURES if column.align == "left" and previous == "right" else PADDING
        for column, previous in zip(columns, before, strict=True)
    ]


def _widths(
    columns: Sequence[Column],
    natural: Sequence[float],
    words: Sequence[float],
    size: float,
    available: float,
    *,
    whole_heads: bool = False,
) -> list[float]:
    """Widths in points with padding: as wide as the content, texts narrowed in proportion where that is too much."""
    widths = []
    for column, ems, pad in zip(columns, natural, _left_padding(columns), strict=True):
        if column.width_mm is not None:
            widths.append(column.width_mm * paper.MILLIMETRE)
        else:
            head = _head_ems(column, whole_heads) * SMALL_SIZE
            widths.append(max(ems * size, head) + pad + PADDING)
    if whole_heads:
        return widths
    excess = sum(widths) - available
    texts = [n for n, column in enumerate(columns) if column.align == "left" and column.width_mm is None]
    # No word is cut in two before the figures have been set smaller, unless it would take up most of the page.
    pads = [pad + PADDING for pad in _left_padding(columns)]
    heads = {n: _head_ems(columns[n], False) * SMALL_SIZE + pads[n] for n in texts}
    longest = {n: max(heads[n], min(words[n] * size + pads[n], available * LONGEST_WORD_SHARE)) for n in texts}
    least = {n: max(longest[n], NARROWEST_TEXT, available / (2 * len(columns))) for n in texts}
    can_give = {n: max(0.0, widths[n] - least[n]) for n in texts}
    giving = sum(can_give.values())
    if excess > 0 and giving > 0:
        share = min(1.0, excess / giving)
        for n in texts:
            widths[n] -= can_give[n] * share
    return widths


def _head_ems(column: Column, whole: bool) -> float:
    """Width of the head on two lines, or of its longest word."""
    labels = [column.label] if whole else column.label.split()
    units = [column.unit] if whole else column.unit.split()
    wide = [breadth(printable(label), BOLD) for label in labels]
    return max(wide + [breadth(printable(unit), REGULAR) for unit in units], default=0.0)
