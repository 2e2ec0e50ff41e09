"""The lists that only the bundle has: records of a month with their digests, and the opening book of the warehouses."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from batches.models import Record, Version
from batches.pages.counting.stock import CaskStockTable
from batches.pages.records.record_table import posts, with_latest
from batches.pages.records.shown import state_of, title_of
from batches.returns.months import Span
from batches.sheets.register import NoSuchStep, all_sheets, sheet_of
from distillery.lists.columns import DifferenceColumn, FigureColumn, ListColumn, LpaColumn, MomentColumn
from distillery.lists.tables import HouseTable
from distillery.plant.pages.place_lists import KeyholderTable
from distillery.printing.furniture import grouped
from ledger.statements.of_records import alcohol_of_records


class RecordDigestTable(HouseTable):
    """Records of every kind in order of time, each with the digest of what stands on it."""

    number = ListColumn("Record", "number")
    of = ListColumn("Of", lambda row: title_of(row.kind))
    happened = MomentColumn("Happened", "happened_from")
    alcohol = LpaColumn("Alcohol", lambda row: row.alcohol_ul)
    difference = DifferenceColumn("Difference", lambda row: row.difference_ul)
    by = ListColumn("Last written by", lambda row: row.newest.person.shown_name if row.newest else "")
    versions = FigureColumn("Version", lambda row: row.newest.serial if row.newest else None)
    state = ListColumn("State", lambda row: "" if state_of(row) else "Complete", state=state_of)
    digest = ListColumn("Digest, first 16 figures", lambda row: grouped(row.newest.digest) if row.newest else "")

    name, caption = "record-digests", "Records"
    note = "in order of time; versions.jsonl has each digest in full with what it is taken over"
    nothing = "No record of this month."

    def prepare(self, rows: Sequence[Any]) -> None:
        newest: dict[int, Version] = {}
        for version in Version.objects.filter(record__in=rows).select_related("person").order_by("serial"):
            newest[version.record_id] = version
        by_kind: dict[str, list[str]] = defaultdict(list)
        for row in rows:
            by_kind[row.kind].append(row.number)
        alcohol = {kind: alcohol_of_records(kind, numbers) for kind, numbers in by_kind.items() if _posts(kind)}
        for row in rows:
            found = alcohol.get(row.kind, {}).get(row.number)
            row.newest = newest.get(row.pk)
            row.alcohol_ul = found.alcohol_ul if found else None
            row.difference_ul = found.difference_ul if found else None


def _posts(kind: str) -> bool:
    try:
        return posts(sheet_of(kind))
    except NoSuchStep:
        return False


def records_in(span: Span) -> list[Record]:
    """The records of a month, in order of time."""
    happened = Record.objects.filter(happened_from__gte=span.starts, happened_from__lt=span.ends)
    return list(happened.order_by("happened_from", "pk"))


class OpeningTable(HouseTable):
    """Every opening of a warehouse with its closing."""

    number = ListColumn("Record", "number")
    warehouse = ListColumn("Warehouse", lambda row: row.typed.get(row.sheet.of_warehouse, ""))
    opened = MomentColumn("Opened", "happened_from")
    closed = MomentColumn("Closed", "happened_to", none="not closed")
    said = ListColumn("As written", lambda row: row.said)

    name, caption = "openings", "Opening times of the warehouses"
    nothing = "No opening of a warehouse is written in this time."

    def prepare(self, rows: Sequence[Any]) -> None:
        for row in rows:
            row.sheet = sheet_of(row.kind)
            row.typed = json.loads(getattr(row, "standing", None) or "{}")
            shown = {one.when for one in row.sheet.moments} | {row.sheet.of_warehouse}
            fields = [one for one in row.sheet.fields if row.typed.get(one.name) and one.name not in shown]
            row.said = "; ".join(f"{one.label}: {row.typed[one.name]}" for one in fields)


class HoldersTable(KeyholderTable):
    """Who holds which key, for somebody who enters none."""

    nothing = "No keyholder is written in the books."


class SummedCaskTable(CaskStockTable):
    """The casks with what they hold together."""

    def totals(self, rows: Iterable[Any]) -> Mapping[str, Any]:
        return {"alcohol": sum(one.pure_ul for one in self.stock.every_cask())}


def openings_in(first: Span, last: Span) -> list[Record]:
    """The openings from one month to another, in order of time: records about a warehouse that begin and end."""
    kinds = [one.kind for one in all_sheets() if one.of_warehouse and len(one.moments) > 1]
    happened = Record.objects.filter(kind__in=kinds, happened_from__gte=first.starts, happened_from__lt=last.ends)
    return list(with_latest(happened).order_by("happened_from", "pk"))
