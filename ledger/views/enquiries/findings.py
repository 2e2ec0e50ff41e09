"""Findings of a month by what they ask for, all enquiries, and what was found about one record."""

from __future__ import annotations

from datetime import datetime

from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import render
from django.utils.text import slugify

from distillery.lists.showing import first_file, listed
from distillery.people.roles import may_write
from ledger.comparing.findings.finding import Finding
from ledger.enquiries.looking import NOTHING_TO_COMPARE, try_month
from ledger.enquiries.standing import by_key, of_period
from ledger.statements.month import NoSuchPeriod, bounds, known_periods
from ledger.views.enquiries.evidence import before
from ledger.views.enquiries.finding_parts import enquire_link, facts_of, likely_table, records_of, told_apart_by
from ledger.views.enquiries.gauges import gauges_of, readings_table
from ledger.views.enquiries.leaning import leaning
from ledger.views.enquiries.parts import enquiry_link
from ledger.views.lists.findings import (
    KINDS,
    OTHERS,
    OTHERS_NOTE,
    EnquiryFilters,
    EnquiryTable,
    FindingFilters,
    FindingTable,
    all_enquiries,
    others_of,
    shown,
)
from ledger.views.ways import books_places


def findings_page(request: HttpRequest) -> HttpResponseBase:
    """Findings of a month by kind, and its enquiries nothing shows any more; the newest month unless asked for one."""
    periods = known_periods()
    period = request.GET.get("month") or (periods[0] if periods else "")
    try:
        tried = try_month(period) if period else NOTHING_TO_COMPARE
        if period:
            bounds(period)
    except NoSuchPeriod as unknown:
        raise Http404(str(unknown)) from unknown
    found = tried.findings
    rows = shown(found, period, by_key(one.key for one in found))
    keys = {one.key for one in found}
    others = others_of([one for one in of_period(period) if one.enquiry.key not in keys])
    to_look_into = listed(request, FindingTable, rows, FindingFilters)
    under_it = listed(request, EnquiryTable, others, prefix="others", caption=OTHERS, note=OTHERS_NOTE)
    if (file := first_file(to_look_into, under_it)) is not None:
        return file
    return render(
        request,
        "ledger/findings.html",
        {
            "area": "books",
            "density": "paper",
            "places": books_places("findings"),
            "period": period,
            "periods": periods,
            "not_compared": tried.not_compared,
            "being_compared": tried.is_behind,
            "kinds": [KINDS[kind] for kind in dict.fromkeys(one.kind for one in found) if kind in KINDS],
            "findings": to_look_into.table if found or not tried.not_compared else None,
            "others": under_it.table if others else None,
        },
    )


def enquiries(request: HttpRequest) -> HttpResponseBase:
    """Every enquiry, the newest first."""
    found = listed(request, EnquiryTable, all_enquiries(), EnquiryFilters)
    if found.file is not None:
        return found.file
    shown_on = {"area": "books", "density": "paper", "places": books_places("enquiries"), "enquiries": found.table}
    return render(request, "ledger/enquiries.html", shown_on)


def _until(one: Finding) -> datetime:
    """Up to when a finding is looked at: what lasts goes on after the run that gave the signal."""
    return one.runs[-1].at if one.runs else one.at


def finding(request: HttpRequest, period: str, record: str) -> HttpResponse:
    """What was found about one record: figures, threshold and basis, what would explain it, how it went before."""
    try:
        tried = try_month(period)
    except NoSuchPeriod as unknown:
        raise Http404(str(unknown)) from unknown
    month = tried.month
    named = [one for one in tried.findings if one.record == record]
    if not named and month is not None:
        raise Http404(f"Nothing is open about {record} in {period}; it may have been put right.")
    standings = by_key(one.key for one in named)
    writes = may_write(request.user)
    return render(
        request,
        "ledger/finding.html",
        {
            "area": "books",
            "places": books_places("findings"),
            "record": record,
            "period": period,
            "not_compared": tried.not_compared,
            "being_compared": tried.is_behind,
            "shown": [
                {
                    "one": one,
                    "facts": facts_of(one),
                    "likely": likely_table(one),
                    "told_apart_by": told_apart_by(one),
                    "readings": readings_table(gauges_of(records_of(one))),
                    "before": before(one.operation, _until(one), name=f"before-{slugify(one.kind)}"),
                    "leaning": leaning(month, one) if month is not None else [],
                    "not_seen": tried.unseen(one.record),
                    "enquiry": enquiry_link(standings[one.key]) if one.key in standings else None,
                    "open": enquire_link(one) if writes and one.key not in standings else None,
                }
                for one in named
            ],
        },
    )
