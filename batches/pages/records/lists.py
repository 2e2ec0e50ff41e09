"""The lists of records: all kinds with their counts, and the records of one kind, newest first."""

from __future__ import annotations

import json
from collections.abc import Iterable

from django.db.models import Count, OuterRef, Q, QuerySet, Subquery
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse

from batches.models import Record, State, Version
from batches.pages.common import month_bounds, page_of_records, sheet_or_404, signed_on
from batches.pages.records.shown import as_text, is_figure, record_address, state_of, unit_of
from batches.sheets.sheet import Sheet
from batches.steps import STEPS
from distillery import figures, pages
from distillery.people.roles import may_write


def records(request: HttpRequest) -> HttpResponse:
    """Every kind of record with how many there are, and the ways to write one, on the screen or on paper."""
    writes = may_write(signed_on(request))
    counts = {
        row["kind"]: row
        for row in Record.objects.values("kind").annotate(
            number=Count("pk"), unfinished=Count("pk", filter=Q(state__in=(State.OPEN, State.WAITING)))
        )
    }
    columns = [
        pages.Column("Kind"),
        pages.Column("Records", numeric=True),
        pages.Column("Not complete", numeric=True),
        *([pages.Column("Write")] if writes else []),
        pages.Column("On paper"),
        pages.Column("Its lines on paper"),
    ]
    rows = []
    for sheet in STEPS:
        count = counts.get(sheet.kind, {"number": 0, "unfinished": 0})
        unfinished = f"{reverse('record_list', args=[sheet.kind])}?state=open"
        cells = [
            pages.Cell(sheet.plural, href=reverse("record_list", args=[sheet.kind])),
            pages.Cell(figures.count(count["number"])),
            pages.Cell(figures.count(count["unfinished"]), href=unfinished if count["unfinished"] else ""),
        ]
        if writes:
            cells.append(pages.Cell(f"New {sheet.title.lower()}", href=reverse("record_new", args=[sheet.kind])))
        cells.append(pages.Cell("Blank sheet (PDF)", href=reverse("blank_sheet_pdf", args=[sheet.kind])))
        lines = sheet.rows.heading if sheet.rows else "Readings" if sheet.readings else ""
        lines_address = f"{reverse('blank_sheet_pdf', args=[sheet.kind])}?part=lines" if lines else ""
        cells.append(pages.Cell(f"{lines} (PDF)" if lines else "", href=lines_address))
        rows.append(pages.Row(cells))
    table = pages.Table("Kinds of record", columns, rows, empty="No kind of record is set up.")
    return render(request, "batches/records.html", {"area": "records", "table": table})


def record_list(request: HttpRequest, kind: str) -> HttpResponse:
    """The records of one kind, by state and month."""
    sheet = sheet_or_404(kind)
    chosen = Record.objects.filter(kind=kind)
    state = request.GET.get("state", "")
    if state in State.values:
        chosen = chosen.filter(state=state)
    month = request.GET.get("month", "").strip()
    bounds = month_bounds(month)
    if bounds is not None:
        chosen = chosen.filter(happened_from__gte=bounds[0], happened_from__lt=bounds[1])
    page = page_of_records(request, with_latest(chosen))
    writes = may_write(signed_on(request))
    return render(
        request,
        "batches/record_list.html",
        {
            "area": "records",
            "sheet": sheet,
            "table": _table(sheet, page.records, bool(request.GET)),
            "older": page.older,
            "newer": page.newer,
            "state": state,
            "states": State.choices,
            "month": month,
            "month_wrong": bool(month) and bounds is None,
            "new": reverse("record_new", args=[kind]) if writes else "",
        },
    )


def with_latest(records: QuerySet[Record]) -> QuerySet[Record]:
    """Records with what stands on them, in the same query."""
    newest = Version.objects.filter(record=OuterRef("pk")).order_by("-serial").values("values")[:1]
    return records.annotate(standing=Subquery(newest))


def _table(sheet: Sheet, records: Iterable[Record], filtered: bool) -> pages.Table:
    fields = [sheet.field(name) for name in sheet.list_columns]
    columns = [
        pages.Column("Number"),
        *(pages.Column(field.label, numeric=is_figure(field), unit=unit_of(field)) for field in fields),
        pages.Column("State"),
    ]
    rows = []
    for record in records:
        typed = json.loads(getattr(record, "standing", None) or "{}")
        state = state_of(record)
        rows.append(
            pages.Row(
                [
                    pages.Cell(record.number, href=record_address(record)),
                    *(
                        pages.Cell(as_text(field, typed[field.name]) if typed.get(field.name) else "")
                        for field in fields
                    ),
                    pages.Cell("" if state else "Complete", state=state),
                ]
            )
        )
    empty = f"No {sheet.plural.lower()} match. Clear the filter." if filtered else f"No {sheet.plural.lower()} yet."
    return pages.Table(sheet.plural, columns, rows, empty=empty, note="newest first", wide=True)
