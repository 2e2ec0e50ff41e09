"""The register of blank sheets: which serial is out with whom, and what came of it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from typing import Any

from django.urls import reverse

from batches.models import Reading, Record, Version
from batches.pages.records.shown import record_address
from batches.steps import NoSuchStep, sheet_of
from distillery.lists.columns import ListColumn, MomentColumn
from distillery.lists.filters import DayFilter, HouseFilters, OneOfFilter
from distillery.lists.tables import HouseTable
from distillery.prints.models import IssuedSheet, SheetReturned

OUT = "Out"


def records_of(serials: Sequence[str]) -> dict[str, list[Record]]:
    """The records keyed in from blank sheets, by the serial of the sheet. Two queries."""
    found: dict[str, dict[int, Record]] = defaultdict(dict)
    for model in (Version, Reading):
        rows = model._default_manager.filter(blank_sheet__in=serials).select_related("record").order_by("pk")
        for row in rows:
            found[row.blank_sheet][row.record_id] = row.record
    return {serial: list(records.values()) for serial, records in found.items()}


def _came(row: IssuedSheet) -> str:
    back = getattr(row, "returned", None)
    return str(back.get_what_display()) if back is not None else OUT


def _back(row: IssuedSheet) -> Any:
    back = getattr(row, "returned", None)
    return back.at if back is not None else None


def _keyed(row: Any) -> str:
    return ", ".join(record.number for record in row.keyed)


def _record(row: Any) -> str:
    return record_address(row.keyed[0]) if len(row.keyed) == 1 else ""


def _key_in(row: IssuedSheet) -> str:
    try:
        sheet_of(row.kind)
    except NoSuchStep:
        return ""
    return f"{reverse('record_new', args=[row.kind])}?blank_sheet={row}"


class IssuedTable(HouseTable):
    """Every blank sheet that was issued, the newest first."""

    serial = ListColumn("Serial", str, order=("serial",))
    title = ListColumn("Sheet", "title")
    place = ListColumn("Of those printed together", lambda row: f"{row.place} of {row.of}")
    issued_to = ListColumn("Issued to", "issued_to")
    at = MomentColumn("Issued", "at")
    by = ListColumn("By", "by__shown_name")
    came = ListColumn("What came of it", _came)
    back = MomentColumn("Returned", _back, none="")
    keyed = ListColumn("Keyed in as", _keyed, href=_record, none="Nothing yet")

    name = "blank-sheets"
    caption = "Blank sheets issued"
    nothing = "No blank sheet has been issued yet."
    nothing_fits = "No blank sheets match. Clear the filter."

    class Meta(HouseTable.Meta):
        order_by = ("-serial",)

    def prepare(self, rows: Sequence[Any]) -> None:
        """Which records were keyed in from each."""
        keyed = records_of([str(row) for row in rows])
        for row in rows:
            row.keyed = keyed.get(str(row), [])


class IssuedTableToKeyIn(IssuedTable):
    """The same for who may write: a serial leads to the form it is keyed in at."""

    serial = ListColumn("Serial", str, order=("serial",), href=_key_in)

    note = "to key a sheet in, choose its serial"


class ByReturn(HouseFilters):
    """By what came of them, and by the days they were issued."""

    returned = OneOfFilter("returned__what", label="Sheets that were", choices=lambda: SheetReturned.What.choices)
    since = DayFilter("at", label="From")
    until = DayFilter("at", label="To", until=True)
