"""A table of a page on paper, with the same columns, rows and caption."""

from __future__ import annotations

from distillery.pages import Table
from distillery.printing.columns import Column
from distillery.printing.tables import FigureTable


def figure_table(table: Table) -> FigureTable:
    """The table as it stands on the page; its sentence for no rows where there are none."""
    return FigureTable(
        tuple(Column(column.label, column.unit, "right" if column.numeric else "left") for column in table.columns),
        [tuple(cell.text for cell in row.cells) for row in table.rows],
        total=tuple(cell.text for cell in table.total.cells) if table.total else None,
        caption=f"{table.caption} ({table.note})" if table.note else table.caption,
        none=table.empty,
        space_above=10.0,
    )
