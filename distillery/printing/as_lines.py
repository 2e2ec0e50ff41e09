"""What blocks print, as lines of texts: for a file of comma-separated text beside the paper.

The first text of a line says what it is (heading, words, value, caption, head, row, total, note); figures stand as they
are written on the page. Boxes for signatures and pictures have no line.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from distillery.printing.blocks import Block, Heading, ItemList, Notes, Paragraph
from distillery.printing.tabled.cells import Cell, Struck, standing, written
from distillery.printing.tabled.columns import Column
from distillery.printing.tabled.tables import FigureTable

ROW = "row"


def lines_of(blocks: Iterable[Block]) -> Iterator[list[str]]:
    """Each line as its texts."""
    for block in blocks:
        if isinstance(block, Heading):
            yield ["heading", block.text]
        elif isinstance(block, Paragraph):
            yield ["words", block.text]
        elif isinstance(block, ItemList):
            yield from (["value", one.label, one.value, one.unit] for one in block.items)
        elif isinstance(block, Notes):
            yield from (["note", one.mark, one.text] for one in block.notes)
        elif isinstance(block, FigureTable):
            yield from _table(block)


def _table(table: FigureTable) -> Iterator[list[str]]:
    if table.caption:
        yield ["caption", table.caption]
    if not table.rows:
        yield ["words", table.none]
        return
    yield ["head", *(f"{column.label} {column.unit}".strip() for column in table.columns)]
    for row in table.rows:
        yield [ROW, *_texts(table.columns, row)]
    if table.total is not None:
        yield ["total", *_texts(table.columns, table.total)]


def _texts(columns: Sequence[Column], row: Sequence[Cell]) -> list[str]:
    return [_text(cell, column) for column, cell in zip(columns, row, strict=True)]


def _text(cell: Cell, column: Column) -> str:
    now = written(standing(cell), column.figure, column.missing)
    return f"{cell.old} struck {cell.mark}: {now}" if isinstance(cell, Struck) else now
