"""This shift: what is still to be completed, what was written last, and the ways to write each step."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import render
from django.urls import reverse

from batches.models import Record, State, Version
from batches.pages.common import signed_on
from batches.pages.places.shift_tables import OpenTable, WrittenTable
from batches.steps import STEPS
from distillery import pages
from distillery.lists.showing import first_file, listed
from distillery.people.roles import may_write

LAST_WRITTEN = 20
# Named by what they are, so that an index leads to them among any number that are complete.
STILL_TO_COMPLETE = (State.OPEN, State.WAITING)


def shift(request: HttpRequest) -> HttpResponseBase:
    """Home of the shift."""
    writes = may_write(signed_on(request))
    waiting = Record.objects.filter(state__in=STILL_TO_COMPLETE)
    latest = Version.objects.select_related("record", "person").order_by("-pk")[:LAST_WRITTEN]
    to_complete = listed(request, OpenTable, waiting, prefix="open", exclude=() if writes else ("following",))
    written = listed(request, WrittenTable, list(latest), prefix="written")
    if (file := first_file(to_complete, written)) is not None:
        return file
    return render(
        request,
        "batches/shift.html",
        {
            "area": "shift",
            "density": "wet-hands",
            "to_complete": to_complete.table,
            "written": written.table,
            "new": [pages.Link(sheet.title, reverse("record_new", args=[sheet.kind])) for sheet in STEPS]
            if writes
            else [],
        },
    )
