"""What stands over the register: casks that ask for a regauge, warehouses that are open, ways to other pages."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django.http import HttpRequest
from django.urls import reverse

from batches.casks.openings import still_open
from batches.casks.standing import to_regauge
from batches.pages.common import signed_on
from batches.pages.records.shown import record_address
from batches.sheets.register import all_sheets
from batches.sheets.sheet import Sheet
from distillery import figures, pages
from distillery.clock.reading import books_now
from distillery.people.roles import may_write
from distillery.plant.models import Cask

MOST_SHOWN = 12
# From then on an opening that was not closed is missing its closing.
LONG_OPEN = timedelta(hours=24)


def warehouse_ways(request: HttpRequest) -> dict[str, Any]:
    """The context of the pages of the warehouse."""
    writes = may_write(signed_on(request))
    sheets = _sheets()
    asking = to_regauge()
    return {
        "books": books_of_the_warehouse(),
        "new": [pages.Link(f"New {sheet.title.lower()}", reverse("record_new", args=[sheet.kind])) for sheet in sheets]
        if writes
        else [],
        "leaking": [leaking_link(one) for one in asking[:MOST_SHOWN]],
        "more_leaking": max(len(asking) - MOST_SHOWN, 0),
        "openings": _openings(),
    }


def books_of_the_warehouse() -> list[pages.Link]:
    """The lists of records about casks and warehouses that post nothing."""
    return [pages.Link(sheet.plural, reverse("record_list", args=[sheet.kind])) for sheet in _sheets()]


def _sheets() -> list[Sheet]:
    return [sheet for sheet in all_sheets() if (sheet.of_casks or sheet.of_warehouse) and not sheet.declares]


def leaking_link(cask: Cask) -> pages.Link:
    """A cask that was seen leaking, with where it lies and since when."""
    since = f"since {figures.moment(cask.seen_leaking_at)}" if cask.seen_leaking_at else ""
    note = ", ".join(one for one in (cask.place, since) if one)
    return pages.Link(cask.vessel.code, reverse("cask", args=[cask.vessel.code]), note)


def _openings() -> list[pages.Fact]:
    now, found = books_now(), []
    for one in still_open():
        late = now - one.since >= LONG_OPEN
        state = pages.State(pages.Kind.MISSING, "Not closed") if late else pages.State(pages.Kind.OPEN, "Open")
        note = f"since {figures.moment(one.since)}"
        found.append(
            pages.Fact(one.warehouse, one.record.number, href=record_address(one.record), note=note, state=state)
        )
    return found
