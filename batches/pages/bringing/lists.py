"""The lists of a workbook that was looked at: what is wrong with it, and what it would bring in."""

from __future__ import annotations

from distillery.lists.columns import FigureColumn, ListColumn
from distillery.lists.filters import HouseFilters, RowFilter
from distillery.lists.tables import HouseTable
from distillery.pages import Kind, State

THERE = State(Kind.OPEN, "There already")


class TroubleTable(HouseTable):
    """Every problem by sheet and cell, in the order of the workbook."""

    sheet = ListColumn("Sheet", "sheet", none="The workbook")
    cell = ListColumn("Cell", "cell")
    what = ListColumn("What to put right", "sentence")

    name = "problems"
    caption = "Problems"
    note = "in the order of the workbook"
    nothing = "No problem was found."


class CountTable(HouseTable):
    """How many rows of each sheet are new and how many the site has."""

    sheet = ListColumn("Sheet", "sheet")
    new = FigureColumn("New", "new")
    there = FigureColumn("There already", "there")

    name = "counts"
    caption = "Rows by sheet"
    nothing = "The workbook has no row that could be read."


class RowTable(HouseTable):
    """Every row that would be written, and what it says."""

    sheet = ListColumn("Sheet", "sheet")
    row = FigureColumn("Row", "row")
    what = ListColumn("What", "what")
    says = ListColumn("As it stands there", "says")
    state = ListColumn("", lambda row: "", state=lambda row: THERE if row.is_there else None)

    name = "rows"
    caption = "Rows of the workbook"
    note = "in the order of the workbook"
    nothing = "No row could be read."


class RowFilters(HouseFilters):
    """By sheet, and whether the site has it."""

    sheet = RowFilter(label="Sheet", read=lambda row: row.sheet, choices=lambda: _titles())
    there = RowFilter(
        label="On the site",
        read=lambda row: "there" if row.is_there else "new",
        choices=lambda: [("new", "New"), ("there", "There already")],
    )


def _titles() -> list[tuple[str, str]]:
    from batches.loading.workbook.sheets import SHEETS

    return [(sheet.title, sheet.title) for sheet in SHEETS]
