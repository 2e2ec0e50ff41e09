"""Findings of a month by what they ask for, and what was found about one record."""

from __future__ import annotations

from datetime import datetime

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.text import capfirst, slugify

from distillery.figures import difference, lpa, moment
from distillery.pages import LOOK, OUT, Cell, Column, Row, State, Table
from distillery.people.roles import may_write
from ledger.comparing.findings.findings import (
    CONTINUITY,
    ENQUIRY,
    GAUGE_AGAIN,
    LIKENESS,
    TIME,
    WATCH,
    Finding,
    compared,
    findings,
)
from ledger.enquiries.finding_of import unseen
from ledger.enquiries.reading import UNANSWERED, Standing, by_key, of_period
from ledger.statements.month import NoSuchPeriod, bounds, known_periods
from ledger.views.enquiries.evidence import before, readings_table
from ledger.views.enquiries.finding_parts import enquire_link, facts_of, likely_table, records_of, told_apart_by
from ledger.views.enquiries.leaning import leaning
from ledger.views.enquiries.parts import enquiry_link, state_mark
from ledger.views.ways import books_places

# What each kind asks for, in the order of the page.
KINDS = {
    ENQUIRY: ("To be answered", "Beyond the review threshold, and the instruments can tell it from nothing."),
    CONTINUITY: ("A gauge apart from its book", "Something moved and was not written down, or a reading was wrong."),
    TIME: ("A time that cannot be right yet", "Later than the clock when it was written, or before its book began."),
    LIKENESS: ("A figure unlike its kind", "It may be right. Look at it before it is lost in a total."),
    WATCH: ("Small losses that lean one way", "No single one is large. Together they are more than chance."),
    GAUGE_AGAIN: ("To be gauged again", "Beyond the review threshold, but the readings are too rough to say."),
}
NO_ENQUIRY = "no enquiry"
NO_THRESHOLD = "none"


def finding_table(
    found: list[Finding],
    period: str,
    standings: dict[str, Standing],
    caption: str = "To be looked into",
    note: str = "most serious first",
) -> Table:
    """Findings, most serious first, each with the way to its enquiry or its page."""
    return Table(
        caption=caption,
        note=note,
        columns=(
            Column("Record"),
            Column("What"),
            Column("Happened"),
            Column("Difference", numeric=True, unit="LPA"),
            Column("Review threshold", numeric=True, unit="LPA"),
            Column("± two standard uncertainties", numeric=True, unit="LPA"),
            Column("In short"),
            Column("State"),
        ),
        rows=[_row(one, period, standings.get(one.key)) for one in found],
        empty="Nothing is beyond its review threshold.",
        wide=True,
    )


def _row(one: Finding, period: str, standing: Standing | None) -> Row:
    href = reverse("finding", kwargs={"period": period, "record": one.record})
    mark: State | None = OUT if one.kind == ENQUIRY else LOOK
    state = Cell(NO_ENQUIRY)
    if standing is not None:
        href = reverse("enquiry", kwargs={"number": standing.enquiry.number})
        words = f"{standing.enquiry.number} {standing.in_words}"
        state = Cell(words, href=href)
        mark = mark if standing.state in UNANSWERED else None
    return Row(
        [
            Cell(one.record, href=href, state=mark),
            Cell(f"{capfirst(one.operation)}: {one.kind}"),
            Cell(moment(one.at, year=True)),
            Cell(difference(one.difference_ul)),
            Cell(lpa(one.threshold_ul) if one.threshold_ul else NO_THRESHOLD),
            Cell(lpa(2 * one.uncertainty_ul)),
            Cell(one.sentence),
            state,
        ]
    )


def findings_page(request: HttpRequest) -> HttpResponse:
    """Findings of a month by kind, and its enquiries nothing shows any more; the newest month unless asked for one."""
    periods = known_periods()
    period = request.GET.get("month") or (periods[0] if periods else "")
    try:
        found = findings(period) if period else []
        if period:
            bounds(period)
    except NoSuchPeriod as unknown:
        raise Http404(str(unknown)) from unknown
    standings = by_key(one.key for one in found)
    tables = []
    for kind in dict.fromkeys([*KINDS, *(one.kind for one in found)]):
        of_kind = [one for one in found if one.kind == kind]
        caption, note = KINDS.get(kind, (kind.capitalize(), ""))
        if of_kind:
            tables.append((kind.replace(" ", "-"), finding_table(of_kind, period, standings, caption, note)))
    shown = {one.key for one in found}
    others = [one for one in of_period(period) if one.enquiry.key not in shown]
    return render(
        request,
        "ledger/findings.html",
        {
            "area": "books",
            "density": "paper",
            "places": books_places("findings"),
            "period": period,
            "periods": periods,
            "tables": tables,
            "others": others_table(others) if others else None,
        },
    )


def others_table(standings: list[Standing]) -> Table:
    """Enquiries opened by hand, those about a closed month, and those whose finding is no longer there."""
    return Table(
        caption="Other enquiries of the month",
        note="opened by hand, about a closed month, or no longer shown by the figures",
        columns=tuple(Column(head) for head in ("Enquiry", "Record", "Happened", "Opened", "What", "State")),
        rows=[
            Row(
                [
                    Cell(one.enquiry.number, href=reverse("enquiry", kwargs={"number": one.enquiry.number})),
                    Cell(one.enquiry.record_number),
                    Cell(moment(one.enquiry.happened_at, year=True)),
                    Cell(moment(one.enquiry.opened_at, year=True)),
                    Cell(one.enquiry.said),
                    Cell("" if state_mark(one) else one.in_words, state=state_mark(one)),
                ]
            )
            for one in standings
        ],
        empty="No other enquiries.",
    )


def _until(one: Finding) -> datetime:
    """Up to when a finding is looked at: what lasts goes on after the run that gave the signal."""
    return one.runs[-1].at if one.runs else one.at


def finding(request: HttpRequest, period: str, record: str) -> HttpResponse:
    """What was found about one record: figures, threshold and basis, what would explain it, how it went before."""
    try:
        month, found = compared(period)
    except NoSuchPeriod as unknown:
        raise Http404(str(unknown)) from unknown
    named = [one for one in found if one.record == record]
    if not named:
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
            "shown": [
                {
                    "one": one,
                    "facts": facts_of(one),
                    "likely": likely_table(one),
                    "told_apart_by": told_apart_by(one),
                    "readings": readings_table(records_of(one)),
                    "before": before(one.operation, _until(one), name=f"before-{slugify(one.kind)}"),
                    "leaning": leaning(month, one),
                    "not_seen": unseen(month, one.record),
                    "enquiry": enquiry_link(standings[one.key]) if one.key in standings else None,
                    "open": enquire_link(one) if writes and one.key not in standings else None,
                }
                for one in named
            ],
        },
    )
