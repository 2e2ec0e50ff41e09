"""The page of the copies: where they lie, how old the newest is, what came of the drills; and a drill asked for."""

from __future__ import annotations

from django.conf import settings
from django.db import connection
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from distillery import figures
from distillery.clock.reading import site_day
from distillery.copies.beside import hindered
from distillery.copies.drill import DRILL_CODE, DUE_SOON, drills, due_on
from distillery.copies.keeping import kept_copies
from distillery.copies.lists import CopyTable, DrillTable
from distillery.copies.places import first_place, second_place
from distillery.copies.said import age, said_now
from distillery.jobs.asking import ask
from distillery.jobs.starting import start
from distillery.lists.showing import first_file, listed
from distillery.pages import LOOK, Fact, Kind, State
from distillery.people.models import Person
from distillery.people.roles import PLANT_KEEPERS, needs

DUE = State(Kind.LATE, "Due")


@require_safe
@needs(PLANT_KEEPERS)
def copies(request: HttpRequest) -> HttpResponseBase:
    """Every copy in the first place, and every drill."""
    taken, held = kept_copies(connection), drills()
    lists = [
        listed(request, CopyTable, taken, prefix=CopyTable.name),
        listed(request, DrillTable, held, prefix=DrillTable.name),
    ]
    if (file := first_file(*lists)) is not None:
        return file
    now = timezone.now()
    said = said_now(now)
    due = due_on(held)
    second = second_place()
    facts = [
        Fact("Newest", figures.moment(taken[0].at, year=True), note=f"{age(now - taken[0].at)} ago")
        if taken
        else Fact("Newest", "none yet"),
        Fact("Where", str(first_place(connection))),
        Fact(
            "Second place",
            str(second) if second is not None else "none",
            note="" if second is not None else "name one on another disk in COPIES_SECOND_FOLDER",
            state=None if second is not None else LOOK,
        ),
        Fact(
            "Next drill",
            figures.day(due, year=True) if due is not None else "now: none has held yet",
            state=DUE if taken and (due is None or due - DUE_SOON <= site_day(now)) else None,
        ),
    ]
    return render(
        request,
        "copies/copies.html",
        {
            "area": "site",
            "facts": facts,
            "sentences": (*(said.sentences if said is not None else ()), *filter(None, [hindered(connection)])),
            "kept_here": settings.SAYS_COPIES,
            "has_copy": bool(taken),
            "lists": [one.table for one in lists],
        },
    )


@require_POST
@needs(PLANT_KEEPERS)
def copies_drill(request: HttpRequest) -> HttpResponse:
    """Asks for a drill with the newest copy, as long work."""
    assert isinstance(request.user, Person)
    job = ask(DRILL_CODE, by=request.user)
    start()
    return redirect("job", job.pk)
