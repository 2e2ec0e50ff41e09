"""The lists of records: all kinds with their counts, and the records of one kind, newest first."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Count, Q
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import render
from django.urls import reverse

from batches.models import Record, State
from batches.pages.common import sheet_or_404, signed_on
from batches.pages.officer.views import shown_for
from batches.pages.records.record_table import RecordFilters, RecordTable, with_latest
from batches.sheets.sheet import Sheet
from batches.steps import STEPS
from distillery.lists.columns import FigureColumn, ListColumn
from distillery.lists.showing import first_file, listed
from distillery.lists.tables import HouseTable
from distillery.people.roles import is_officer, may_write


@dataclass(frozen=True, slots=True)
class KindOfRecord:
    """A kind of record with how many there are."""

    sheet: Sheet
    number: int
    unfinished: int

    def address(self, name: str) -> str:
        """One of the addresses about the kind."""
        return reverse(name, args=[self.sheet.kind])

    @property
    def lines(self) -> str:
        """What its sheet of lines is called; blank where it has none."""
        if self.sheet.rows:
            return self.sheet.rows.heading
        return "Readings" if self.sheet.readings else ""


def _unfinished(one: KindOfRecord) -> str:
    return f"{one.address('record_list')}?state=open" if one.unfinished else ""


def _lines(one: KindOfRecord) -> str:
    return f"{one.address('blank_sheet_pdf')}?part=lines" if one.lines else ""


class KindsTable(HouseTable):
    """Every kind of record."""

    kind = ListColumn("Kind", lambda one: one.sheet.plural, href=lambda one: one.address("record_list"))
    records = FigureColumn("Records", "number")
    unfinished = FigureColumn("Not complete", "unfinished", href=_unfinished)
    write = ListColumn(
        "Write", lambda one: f"New {one.sheet.title.lower()}", href=lambda one: one.address("record_new")
    )
    blank = ListColumn("On paper", lambda one: "Specimen (PDF)", href=lambda one: one.address("blank_sheet_pdf"))
    lines = ListColumn(
        "Its lines on paper", lambda one: f"{one.lines} (PDF)" if one.lines else "", none="none", href=_lines
    )

    name, caption, nothing = "kinds", "Kinds of record", "No kind of record is set up."


def records(request: HttpRequest) -> HttpResponseBase:
    """Every kind of record with how many there are, and the ways to write one, on the screen or on paper.

    An officer has above it what officers ask for.
    """
    counts = {
        row["kind"]: (row["number"], row["unfinished"])
        for row in Record.objects.values("kind").annotate(
            number=Count("pk"), unfinished=Count("pk", filter=Q(state__in=(State.OPEN, State.WAITING)))
        )
    }
    kinds = [KindOfRecord(sheet, *counts.get(sheet.kind, (0, 0))) for sheet in STEPS]
    person = signed_on(request)
    found = listed(request, KindsTable, kinds, exclude=() if may_write(person) else ("write",))
    asked = shown_for(request) if is_officer(person) else None
    if (file := first_file(found, *([asked.found] if asked is not None else []))) is not None:
        return file
    context = {"area": "records", "kinds": found.table, "sheets": STEPS, "officer": asked is not None}
    return render(request, "batches/records.html", context | (asked.context if asked is not None else {}))


def record_list(request: HttpRequest, kind: str) -> HttpResponseBase:
    """The records of one kind, by state, month and days."""
    sheet = sheet_or_404(kind)
    chosen = with_latest(Record.objects.filter(kind=kind))
    found = listed(request, RecordTable, chosen, RecordFilters, sheet=sheet)
    if found.file is not None:
        return found.file
    return render(
        request,
        "batches/record_list.html",
        {
            "area": "records",
            "sheet": sheet,
            "records": found.table,
            "new": reverse("record_new", args=[kind]) if may_write(signed_on(request)) else "",
        },
    )
