"""All changes to one cask, vessel or record; and all entries of a month that are late, missing, struck or put right."""

from __future__ import annotations

from typing import Any

from django.http import Http404, HttpRequest, HttpResponseBase
from django.shortcuts import render
from django.views.decorators.http import require_safe

from batches.pages.bundle.changes import EntryTable, entries_in
from batches.pages.changed.gathering import MOST_RECORDS, thing_of, written_of
from batches.pages.changed.table import WrittenFilters, WrittenTable
from batches.returns.months import return_months, span_of
from distillery import figures
from distillery.clock.reading import books_today
from distillery.lists.exports import digest_on_paper
from distillery.lists.showing import listed
from distillery.printing.furniture import grouped
from ledger.periods.calendar import NoSuchPeriod

LONGEST: int = 120


@require_safe
def all_changes(request: HttpRequest) -> HttpResponseBase:
    """All that was written of the cask, vessel or record in `?of=`, with the digest that its print bears."""
    asked = request.GET.get("of", "").strip()[:LONGEST]
    thing = thing_of(asked)
    context: dict[str, Any] = {"area": "records", "asked": asked, "thing": thing}
    if thing is None:
        return render(request, "changed/all_changes.html", context, status=404 if asked else 200)
    rows, goes_on = written_of(thing)
    found = listed(request, WrittenTable, rows, WrittenFilters, caption=f"All changes to {thing.named}")
    if found.file is not None:
        return found.file
    shown = context | {
        "list": found.table,
        "digest": grouped(digest_on_paper(found.table)),
        "left_out": f"Only its newest {figures.count(MOST_RECORDS)} records are shown." if goes_on else "",
    }
    return render(request, "changed/all_changes.html", shown)


@require_safe
def entries_changed(request: HttpRequest) -> HttpResponseBase:
    """Every entry of a month that is late, missing, struck or put right; the newest month that is over unless asked."""
    today = books_today()
    months = return_months(today)
    newest = next((one.code for one in months if one.last_day < today), months[0].code if months else "")
    code = request.GET.get("month") or newest
    context: dict[str, Any] = {"area": "records", "months": months, "chosen": code}
    if not code:
        return render(request, "changed/entries.html", context)
    try:
        span = span_of(code)
    except NoSuchPeriod as unknown:
        raise Http404(str(unknown)) from unknown
    found = listed(request, EntryTable, entries_in(span), note=f"of {span.name}")
    if found.file is not None:
        return found.file
    return render(request, "changed/entries.html", context | {"list": found.table, "name": span.name})
