"""Casks against their expected band, on a page, in files and on paper; those furthest below it first."""

from __future__ import annotations

from datetime import date, timedelta

from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import render
from django.utils import timezone

from distillery.clock.reading import books_today
from distillery.lists.filters import Rows, SiteDayField, begin_of
from distillery.lists.showing import listed
from distillery.people.models import Person
from distillery.plant.models import Cask
from distillery.printing.documents import cask_watch as paper
from distillery.printing.house import impression, site
from ledger.statements.maturing import FEWEST, MOST, MOST_COUNTED, TIMES_THE_MEDIAN, CaskWatch, cask_watch, not_gauged
from ledger.views.lists.casks_watch import CaskWatchFilters, CaskWatchTable


def casks_expected(request: HttpRequest) -> HttpResponseBase:
    """The page; `?warehouse=1A` for one warehouse, `?as=csv` for the list as text, `?as=pdf` for the printed sheet."""
    place, until = _asked(request)
    watched = cask_watch(place, begin_of(until + timedelta(days=1)) if until else None)
    if request.GET.get("as") == "pdf":
        return _sheet(request, watched)
    found = listed(request, CaskWatchTable, watched, CaskWatchFilters)
    if found.file is not None:
        return found.file
    oldest = min((one.gauged_at for one in watched), default=None)
    # Beyond those looked through others were gauged, and on an earlier day another number was full.
    all_seen = len(watched) < MOST and until is None
    return render(
        request,
        "ledger/casks_expected.html",
        {
            "area": "warehouse",
            "casks": found.table,
            "not_gauged": not_gauged(watched, place) if all_seen else 0,
            "most_counted": MOST_COUNTED,
            "gauged_since": oldest if len(watched) >= MOST else None,
            "looked_through": len(watched),
            "fewest": FEWEST,
            "times": TIMES_THE_MEDIAN,
        },
    )


def _asked(request: HttpRequest) -> tuple[str, date | None]:
    """The warehouse and the day of the address, as far as the filters take them; they say what they leave out."""
    place = request.GET.get("warehouse", "").strip()
    if place and not Cask.objects.filter(warehouse=place).exists():
        place = ""
    try:
        until: date | None = SiteDayField(required=False).clean(request.GET.get("until", ""))
    except ValidationError:
        until = None
    return place, until


def _sheet(request: HttpRequest, watched: list[CaskWatch]) -> HttpResponse:
    assert isinstance(request.user, Person)
    chosen = CaskWatchFilters(request.GET, queryset=Rows(watched))
    place = chosen.chosen.get("warehouse", "")
    printed = paper.cask_watch_pdf(
        paper.CaskWatchSheet(site(), books_today(), place, tuple(_printed(one) for one in chosen.qs)),
        impression(timezone.now(), request.user.shown_name),
    )
    answer = HttpResponse(printed, content_type="application/pdf")
    answer["Content-Disposition"] = 'inline; filename="casks-and-bands.pdf"'
    return answer


def _printed(one: CaskWatch) -> paper.CaskLine:
    return paper.CaskLine(
        one.code,
        one.kind,
        one.warehouse,
        one.years,
        one.filled_lpa,
        one.low_lpa,
        one.high_lpa,
        one.measured_lpa,
        one.two_u_lpa,
        one.rate_percent,
        one.median_percent,
        one.gauged_at,
        one.verdict.value or "usual",
    )
