"""The trail on a page: what was entered, changed and removed in rows that no movement's seal covers, newest first."""

from __future__ import annotations

from typing import Final
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import render
from django.urls import reverse

from distillery.lists.showing import listed
from distillery.people.roles import ADMINISTRATOR, MANAGER, OFFICER, needs
from distillery.trail.telling import NoSuchDay, Run, day_of, page, told_entries
from ledger.views.lists.trail import TrailFilters, TrailTable
from ledger.views.ways import books_places

READERS: Final = frozenset({MANAGER, OFFICER, ADMINISTRATOR})
LONGEST_KEY: Final = 18


@needs(READERS)
def trail(request: HttpRequest) -> HttpResponse:
    """A page of the trail, of one day or of all."""
    text, key = request.GET.get("day", "").strip(), request.GET.get("before", "")
    day, sentence = None, ""
    if text:
        try:
            day = day_of(text)
        except NoSuchDay as unknown:
            sentence = str(unknown)
    before = int(key) if key.isascii() and key.isdigit() and len(key) <= LONGEST_KEY else None
    found = page(day=day, before=before)
    return render(
        request,
        "ledger/trail.html",
        {
            "area": "books",
            "density": "paper",
            "places": books_places("books"),
            "lines": [(isinstance(line, Run), line) for line in found.lines],
            "day": text if day is not None else "",
            "sentence": sentence,
            "older": _way(text if day else "", found.older) if found.older is not None else "",
            "newer": _way(text if day else "", None) if before is not None else "",
        },
    )


def _way(day: str, before: int | None) -> str:
    asked = {key: str(value) for key, value in (("day", day), ("before", before)) if value}
    return f"{reverse('trail')}?{urlencode(asked)}" if asked else reverse("trail")


@needs(READERS)
def trail_entries(request: HttpRequest) -> HttpResponseBase:
    """Every entry of the trail by itself."""
    found = listed(request, TrailTable, told_entries(), TrailFilters)
    if found.file is not None:
        return found.file
    shown = {"area": "books", "density": "paper", "places": books_places("books"), "entries": found.table}
    return render(request, "ledger/trail_entries.html", shown)
