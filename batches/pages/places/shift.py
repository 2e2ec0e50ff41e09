"""This shift: what is still to be completed, what was written last, and the ways to write each step."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse

from batches.models import Record, State, Version
from batches.pages.common import signed_on
from batches.pages.records.record_table import with_latest
from batches.pages.records.shown import record_address, state_of, title_of
from batches.steps import STEPS
from distillery import figures, pages
from distillery.people.roles import may_write

MOST_OPEN = 50
LAST_WRITTEN = 20


def shift(request: HttpRequest) -> HttpResponse:
    """Home of the shift."""
    writes = may_write(signed_on(request))
    return render(
        request,
        "batches/shift.html",
        {
            "area": "shift",
            "density": "wet-hands",
            "open_table": _to_complete(writes),
            "written_table": _last_written(),
            "new": [pages.Link(sheet.title, reverse("record_new", args=[sheet.kind])) for sheet in STEPS]
            if writes
            else [],
        },
    )


def _to_complete(writes: bool) -> pages.Table:
    waiting = with_latest(Record.objects.exclude(state__in=(State.COMPLETE, State.VOID))).order_by(
        "happened_from", "pk"
    )
    columns = [pages.Column(label) for label in ("Record", "What", "Begun", "State", "Next")]
    rows = []
    for record in waiting.select_related("opened_by")[:MOST_OPEN]:
        is_open = record.state == State.OPEN
        step = "Complete" if is_open else "Countersign"
        rows.append(
            pages.Row(
                [
                    pages.Cell(record.number, href=record_address(record)),
                    pages.Cell(title_of(record.kind)),
                    pages.Cell(figures.moment(record.happened_from)),
                    pages.Cell("", state=state_of(record)),
                    pages.Cell(
                        step if writes else "",
                        href=record_address(record, "record_add" if is_open else "record") if writes else "",
                    ),
                ]
            )
        )
    return pages.Table("To complete", columns, rows, empty="Nothing is open. Every record that was begun is complete.")


def _last_written() -> pages.Table:
    latest = Version.objects.select_related("record", "person").order_by("-written_at", "-pk")[:LAST_WRITTEN]
    columns = [pages.Column(label) for label in ("Written", "By", "Record", "What", "Happened")]
    rows = [
        pages.Row(
            [
                pages.Cell(figures.moment(version.written_at)),
                pages.Cell(version.person.shown_name),
                pages.Cell(version.record.number, href=record_address(version.record)),
                pages.Cell(_what(version)),
                pages.Cell(figures.moment(version.record.happened_from)),
            ]
        )
        for version in latest
    ]
    return pages.Table("Written last", columns, rows, empty="Nothing has been written yet. Begin with a sheet above.")


def _what(version: Version) -> str:
    title = title_of(version.record.kind)
    if version.reason:
        return f"{title}, corrected: {version.reason}"
    return title if version.serial == 1 else f"{title}, added to"
