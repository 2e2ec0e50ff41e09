"""A table of a page on paper, with the same columns, rows and caption."""

from __future__ import annotations

from distillery.pages import Cell, Table
from distillery.printing.tabled import cells
from distillery.printing.tabled.columns import Column
from distillery.printing.tabled.tables import FigureTable


def figure_table(table: Table, *, captioned: bool = True) -> FigureTable:
    """The table as it stands on the page; its sentence for no rows where there are none. Under a heading that says what
    it is it goes without its caption."""
    caption = f"{table.caption} ({table.note})" if table.note else table.caption
    return FigureTable(
        _columns(table),
        _rows(table),
        total=tuple(cell.text for cell in table.total.cells) if table.total else None,
        caption=caption if captioned else "",
        none=table.empty,
        space_above=10.0 if captioned else 3.0,
    )


def bare_table(table: Table) -> FigureTable:
    """The table without its caption and its sums."""
    return FigureTable(_columns(table), _rows(table), none=table.empty)


def _columns(table: Table) -> tuple[Column, ...]:
    return tuple(Column(column.label, column.unit, "right" if column.numeric else "left") for column in table.columns)


def _rows(table: Table) -> list[tuple[cells.Cell, ...]]:
    return [tuple(_on_paper(cell) for cell in row.cells) for row in table.rows]


def _on_paper(cell: Cell) -> cells.Cell:
    return cells.Struck(cell.struck, cell.text, cell.note) if cell.struck else cell.text
