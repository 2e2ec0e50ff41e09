"""This shift: what is due, what is on, what waits otherwise, and the ways to start a sheet."""

from __future__ import annotations

from django.db.models import Q
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import render
from django.urls import reverse

from batches.models import Record, State, Version
from batches.pages.common import signed_on
from batches.pages.places.shift_beside import beside
from batches.pages.places.shift_tables import OpenTable, WrittenTable
from batches.pages.running.lines import lines, with_drafts
from batches.running.runs import running_kinds
from batches.steps import STEPS
from distillery import pages
from distillery.clock.reading import books_now
from distillery.lists.showing import first_file, listed
from distillery.people.roles import may_write

LAST_WRITTEN = 20
# More would be taller than a screen beside three runs; the rest is folded away.
STARTS_SHOWN = 13
# With more on, their lines stand closer and the ways to start a sheet are folded, so that all are in one window.
LINES_AT_EASE = 3
# Named by what they are, so that an index leads to them among any number that are complete.
STILL_TO_COMPLETE = (State.OPEN, State.WAITING)


def shift(request: HttpRequest) -> HttpResponseBase:
    """Home of the shift."""
    writes = may_write(signed_on(request))
    sheets = [sheet for sheet in STEPS if not sheet.sets_up] if writes else []
    starts = [pages.Link(sheet.title, reverse("record_new", args=[sheet.kind])) for sheet in sheets]
    # What is on has a line of its own.
    waiting = Record.objects.filter(state__in=STILL_TO_COMPLETE).exclude(Q(state=State.OPEN, kind__in=running_kinds()))
    on = with_drafts(lines(books_now(), writes=writes), request)
    latest = list(Version.objects.select_related("record", "person").order_by("-pk")[:LAST_WRITTEN])
    to_complete = listed(request, OpenTable, waiting, prefix="open", exclude=() if writes else ("following",))
    written = listed(request, WrittenTable, latest, prefix="written")
    if (file := first_file(to_complete, written)) is not None:
        return file
    return render(
        request,
        "batches/shift.html",
        {
            "area": "shift",
            "density": "wet-hands",
            "lines": on,
            "crowded": len(on.runs) > LINES_AT_EASE,
            "waiting": waiting.exists(),
            "to_complete": to_complete.table,
            "written": written.table,
            # Books in which nothing was ever written are those of a new site.
            "begins": not latest,
            "new": starts[:STARTS_SHOWN],
            "more": starts[STARTS_SHOWN:],
            **beside(request),
        },
    )
