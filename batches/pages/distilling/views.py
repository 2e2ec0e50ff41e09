"""Views of distillation periods; what they show is worked out in `batches.distilling`."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase, JsonResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone

from batches.distilling.facts import period_facts
from batches.distilling.in_the_way import in_the_way
from batches.distilling.periods import all_periods, runs_without_period
from batches.distilling.yields import Yield, yields_of
from batches.pages.common import signed_on
from batches.pages.distilling.pictures import pictures_of, plot_of_periods
from batches.pages.distilling.printed import period_pdf
from batches.pages.distilling.tables import (
    MashOfPeriodTable,
    PeriodTable,
    RunOfPeriodTable,
    RunWithoutPeriodTable,
    plain,
    ways_past,
)
from batches.sheets.site import Site
from distillery.charts.pictures import pictured
from distillery.lists.showing import first_file, listed
from distillery.people.roles import may_write

# Periods that a picture shows; the list has all of them.
DRAWN = 24


def distillation_periods(request: HttpRequest) -> HttpResponseBase:
    """Every period with its yield, and the last runs that belong to none."""
    periods, site = all_periods(), Site()
    rows = yields_of(periods, site)
    found = listed(request, PeriodTable, rows)
    without = listed(request, RunWithoutPeriodTable, runs_without_period(periods), prefix="without")
    if (file := first_file(found, without)) is not None:
        return file
    kind = periods[0].record.kind if periods else "distillation_period"
    return render(
        request,
        "batches/periods.html",
        {
            "area": "records",
            "periods": found.table,
            "without": without.table if periods else None,
            "picture": pictured(plot_of_periods(rows[:DRAWN])),
            "new": reverse("record_new", args=[kind]) if may_write(signed_on(request)) else "",
        },
    )


def distillation_period(request: HttpRequest, number: str) -> HttpResponseBase:
    """One period: what it came to, what stands in the way of its end, its runs and mashes."""
    worked = _worked(number)
    runs = listed(request, RunOfPeriodTable, worked.runs, prefix="runs")
    mashes = listed(request, MashOfPeriodTable, worked.mashes, prefix="mashes")
    if (file := first_file(runs, mashes)) is not None:
        return file
    period = worked.period
    open_still = period.ended_at is None
    left = in_the_way(period.spirits, period.opened_at, period.until) if open_still else []
    return render(
        request,
        "batches/period.html",
        {
            "area": "records",
            "period": period,
            "facts": period_facts(worked),
            "open_still": open_still,
            "in_the_way": ways_past(left),
            "runs": runs.table,
            "mashes": mashes.table,
            "pictures": pictures_of(worked),
            "writes": may_write(signed_on(request)),
        },
    )


def distillation_period_json(request: HttpRequest, number: str) -> JsonResponse:
    """The same as data."""
    return JsonResponse(plain(_worked(number)))


def distillation_period_pdf(request: HttpRequest, number: str) -> HttpResponse:
    """The same on paper."""
    printed = period_pdf(_worked(number), printed_at=timezone.now(), printed_by=signed_on(request).shown_name)
    response = HttpResponse(printed, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{number}-yield.pdf"'
    return response


def _worked(number: str) -> Yield:
    period = next((one for one in all_periods() if one.number == number), None)
    if period is None:
        raise Http404(f"There is no distillation period {number}.")
    return Yield(period, Site())
