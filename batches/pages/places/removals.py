"""Removals: all that left the site, in bottles, casks or bulk, with duty, and what is awaited from the other end."""

from __future__ import annotations

import json
import re
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Count, Exists, OuterRef, QuerySet, Sum
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import render
from django.urls import reverse

from batches.awaited import Awaited, awaited
from batches.models import Mention, Record, State, Version
from batches.pages.common import signed_on
from batches.pages.places.stock_tables import DutyColumn, duties_of, owed_in_words
from batches.pages.records.record_table import with_latest
from batches.pages.records.shown import record_address, state_of
from batches.sheets.register import all_sheets, sheet_of
from batches.sheets.sheet import Sheet
from distillery.clock.reading import books_now
from distillery.lists.columns import DayColumn, FigureColumn, ListColumn, LpaColumn, MomentColumn
from distillery.lists.filters import DayFilter, HouseFilters, MonthFilter, OneOfFilter, TextFilter
from distillery.lists.showing import first_file, listed
from distillery.lists.tables import HouseTable
from distillery.pages import Kind, Link
from distillery.pages import State as ShownState
from distillery.people.roles import may_write
from ledger.models import AccountKind, Leg
from ledger.posting.duties import DutyNow
from ledger.statements.of_records import alcohol_of_records

OVERDUE = ShownState(Kind.LATE, "Overdue")


def leaving_sheets() -> list[Sheet]:
    """The sheets by which alcohol leaves the site."""
    return [sheet for sheet in all_sheets() if sheet.leaves is not None]


def _said(row: Any, name: str) -> str:
    """What stands on the removal's field for this: what it left for, the consignee, the document."""
    leaves = sheet_of(row.kind).leaves
    return str(row.typed.get(getattr(leaves, name), "")) if leaves is not None else ""


class LeftTable(HouseTable):
    """All removals, newest first, with what left and the duty on it."""

    number = ListColumn("Removal", "number", href=record_address, state=state_of)
    left = MomentColumn("Left", "happened_from", order=("happened_from", "pk"))
    what = ListColumn("What", lambda row: row.what)
    kind = ListColumn("Left for", lambda row: _said(row, "left_for"))
    consignee = ListColumn("Consignee", lambda row: _said(row, "consignee"))
    document = ListColumn("Document", lambda row: _said(row, "document") or row.typed.get("movement_reference", ""))
    alcohol = LpaColumn("Alcohol", lambda row: row.alcohol_ul)
    duty = DutyColumn("Duty", lambda row: owed_in_words(row.owed))

    name = "removals"
    caption = "All removals"
    note = "duty as worked out here; the law and the officer decide"
    nothing = "Nothing has left yet."
    nothing_fits = "No removals match. Clear the filter."
    adds_up_filtered = True

    class Meta(HouseTable.Meta):
        order_by = ("-left",)

    def prepare(self, rows: Sequence[Any]) -> None:
        newest = Version.objects.filter(record__in=[row.pk for row in rows]).order_by("record", "serial")
        lines = {record: json.loads(text or "[]") for record, text in newest.values_list("record_id", "rows")}
        owed, alcohol = _owed_and_alcohol(rows)
        for row in rows:
            row.typed = json.loads(getattr(row, "standing", None) or "{}")
            row.what = _what(row, lines.get(row.pk, []))
            row.owed = owed.get(row.number, [])
            row.alcohol_ul = alcohol.get(row.number)

    def totals(self, rows: Iterable[Any]) -> Mapping[str, Any]:
        assert isinstance(rows, QuerySet)
        owed, alcohol = _owed_and_alcohol(list(rows.order_by().only("kind", "number")))
        return {
            "alcohol": sum(alcohol.values()),
            "duty": owed_in_words([one for each in owed.values() for one in each]),
        }


def _owed_and_alcohol(rows: Sequence[Any]) -> tuple[dict[str, list[DutyNow]], dict[str, int]]:
    """Duty and alcohol of removals by number, a few queries for each kind of sheet."""
    by_kind: dict[str, list[str]] = defaultdict(list)
    for row in rows:
        by_kind[row.kind].append(row.number)
    owed: dict[str, list[DutyNow]] = {}
    alcohol: dict[str, int] = {}
    for kind, numbers in by_kind.items():
        owed |= duties_of(kind, numbers)
        alcohol |= {number: one.alcohol_ul for number, one in alcohol_of_records(kind, numbers).items()}
    return owed, alcohol


def _what(row: Any, lines: Sequence[Mapping[str, str]]) -> str:
    """'120 gin', 'C12, C13', 'SV1': what its sheet names it by."""
    sheet = sheet_of(row.kind)
    named = sheet.leaves.named if sheet.leaves is not None else ()
    once = [row.typed[name] for name in named if row.typed.get(name)]
    of_lines = [", ".join(line[name] for line in lines if line.get(name)) for name in named]
    return " ".join([*once, *(text for text in of_lines if text)])


class KindFilter(OneOfFilter):
    """Removals for one thing, by what stands on them."""

    def filter(self, rows: Any, value: Any) -> Any:
        return rows.filter(standing__iregex=_on_field("kind", re.escape(value) + '"')) if value else rows


class ConsigneeFilter(TextFilter):
    """Removals to a consignee whose name or address has a text in it."""

    def filter(self, rows: Any, value: Any) -> Any:
        text = (value or "").strip()
        if not text:
            return rows
        # As the text stands in JSON, where letters beyond ASCII are written out.
        kept = json.dumps(text)[1:-1]
        return rows.filter(standing__iregex=_on_field("consignee", f'[^"]*{re.escape(kept)}'))


class DocumentFilter(TextFilter):
    """Removals on which a document's number has a text in it."""

    def filter(self, rows: Any, value: Any) -> Any:
        text = (value or "").strip()
        if not text:
            return rows
        named = Mention.objects.filter(record=OuterRef("pk"), what=Mention.What.DOCUMENT, code__icontains=text)
        return rows.filter(Exists(named))


def _on_field(name: str, pattern: str) -> str:
    return f'"{name}": ?"{pattern}'


def _kinds() -> list[tuple[str, str]]:
    found = [
        choice
        for sheet in leaving_sheets()
        if sheet.leaves is not None
        for choice in sheet.field(sheet.leaves.left_for).choices
    ]
    return [(one, one) for one in dict.fromkeys(found)]


class LeftFilters(HouseFilters):
    """By what it left for, consignee, document, month and days, and state."""

    kind = KindFilter("standing", label="Left for", choices=_kinds)
    consignee = ConsigneeFilter("standing", label="Consignee")
    document = DocumentFilter("standing", label="Document")
    month = MonthFilter("happened_from")
    since = DayFilter("happened_from", label="From")
    until = DayFilter("happened_from", label="To", until=True)
    state = OneOfFilter("state", label="State", choices=lambda: State.choices)


@dataclass(frozen=True, slots=True)
class OfKind:
    """What left for one thing together."""

    kind: str
    removals: int
    pure_ul: int
    owed: list[DutyNow]


class KindsLeftTable(HouseTable):
    """What left by what for, of the removals that are listed."""

    kind = ListColumn("Left for", "kind")
    removals = FigureColumn("Removals", "removals")
    alcohol = LpaColumn("Alcohol", "pure_ul")
    duty = DutyColumn("Duty", lambda row: owed_in_words(row.owed))

    name = "kinds-left"
    caption = "By what they left for"
    nothing = "Nothing has left yet."
    adds_up = True

    def totals(self, rows: Iterable[Any]) -> Mapping[str, Any]:
        found = list(rows)
        if not found:
            return {}
        return {
            "removals": sum(one.removals for one in found),
            "alcohol": sum(one.pure_ul for one in found),
            "duty": owed_in_words([due for one in found for due in one.owed]),
        }


def by_kind(records: QuerySet[Record]) -> list[OfKind]:
    """The removals of a list added up by the account that they went to; what is not in the books yet is left out."""
    numbers = records.order_by().values("number")
    legs = Leg.objects.standing().filter(account__kind=AccountKind.REMOVAL, movement__record_number__in=numbers)
    sums = legs.values_list("account__name").annotate(Sum("pure_ul"), Count("movement__record_number", distinct=True))
    owed: dict[str, list[DutyNow]] = defaultdict(list)
    for sheet in leaving_sheets():
        for each in duties_of(sheet.kind, numbers).values():
            for one in each:
                owed[one.removal].append(one)
    return [OfKind(name, count, pure, owed[name]) for name, pure, count in sorted(sums)]


class AwaitedTable(HouseTable):
    """What is still awaited from the other end, the longest overdue first."""

    number = ListColumn("Removal", lambda one: one.record.number, href=lambda one: record_address(one.record))
    left = MomentColumn("Left", lambda one: one.record.happened_from)
    what = ListColumn("Awaited", "moment")
    until = DayColumn("Until", "last_day", none="no day is set")
    state = ListColumn("State", lambda one: "", state=lambda one: OVERDUE if one.is_overdue else None)
    write = ListColumn("Next", lambda one: "Write it", href=lambda one: record_address(one.record, "record_add"))

    name = "awaited"
    caption = "Awaited from the other end"
    note = "public holidays are not counted"
    nothing = "Nothing is awaited."


def removals(request: HttpRequest) -> HttpResponseBase:
    """All removals, their sums by kind, and what is awaited."""
    writes = may_write(signed_on(request))
    sheets = leaving_sheets()
    rows = with_latest(Record.objects.filter(kind__in=[sheet.kind for sheet in sheets]))
    left = listed(request, LeftTable, rows, LeftFilters)
    waits: list[Awaited] = awaited(books_now())
    expected = listed(request, AwaitedTable, waits, prefix="awaited", exclude=() if writes else ("write",))
    kinds = listed(request, KindsLeftTable, by_kind(left.table.all_rows()), prefix="kinds")
    if (file := first_file(left, kinds, expected)) is not None:
        return file
    return render(
        request,
        "batches/removals.html",
        {
            "area": "bottling",
            "removals": left.table,
            "kinds": kinds.table,
            "awaited": expected.table if waits else None,
            "new": [Link(f"New {one.title.lower()}", reverse("record_new", args=[one.kind])) for one in sheets]
            if writes
            else [],
        },
    )
