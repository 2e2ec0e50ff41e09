"""The plant as a plain table: every vessel with what it holds, for readers, files and paper."""

from __future__ import annotations

from typing import Any

from distillery.lists.columns import ListColumn, LpaColumn
from distillery.lists.tables import HouseTable
from ledger.views.ways import account_href


def _said(row: Any) -> str:
    return str(row.state or row.age)


def _cleaning(row: Any) -> str:
    return row.cleaning.said if row.cleaning is not None else ""


class PlantTable(HouseTable):
    """Every vessel but the casks, in the plant's order; rows are those of `ledger.views.plant_line`."""

    vessel = ListColumn("Vessel", "code", href=lambda row: account_href(row.account))
    called = ListColumn("Name", "name")
    stage = ListColumn("Stage", "stage")
    alcohol = LpaColumn("Book", "pure_ul", none="Not declared")
    bulk = ListColumn("Bulk at 20 °C", "bulk", unit="L")
    strength = ListColumn("Strength", "strength", unit="% vol")
    state = ListColumn("State, or when gauged", _said, href=lambda row: row.record)
    cleaning = ListColumn("Cleaning", _cleaning, href=lambda row: row.cleaning_record)

    name = "vessels"
    caption = "Vessels"
    note = "by the book"
    nothing = "No vessels are set up. Load the plant's tables with the command load_month."
