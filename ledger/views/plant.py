"""The plant at a glance: the line of vessels, the account points along it, and the balance of the whole site."""

from __future__ import annotations

from typing import Final

from django.db.models import Sum
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import render

from distillery import figures
from distillery.clock.reading import books_now
from distillery.lists.showing import listed
from distillery.pages import LOOK, BalanceLine, Cell, Column, Row, Table
from ledger.enquiries.standing import UNANSWERED, about_keys_and_records
from ledger.models import AccountKind, AccountMonth
from ledger.periods.calendar import Calendar
from ledger.statements.account_points import AccountPoint, account_points
from ledger.statements.at_work import at_work
from ledger.statements.balances import vessel_holdings
from ledger.statements.month import StageLine, site_line
from ledger.views.lists.plant import PlantTable
from ledger.views.plant_line import VesselOnLine, oldest, stages_on_line, vessels_on_line
from ledger.views.ways import record_href

POINTS: Final = (
    Column("Account point"),
    Column("Last taken"),
    Column("Sent", numeric=True, unit="LPA"),
    Column("Received", numeric=True, unit="LPA"),
    Column("Difference", numeric=True, unit="LPA"),
)


def plant(request: HttpRequest) -> HttpResponseBase:
    """Every vessel with its level and its figures, by stage; casks and bottles as one figure each."""
    now = books_now()
    vessels = vessels_on_line(vessel_holdings(), at_work(), now)
    found = listed(request, PlantTable, vessels)
    if found.file is not None:
        return found.file
    totals = stock_by_stage()
    calendar = Calendar.read()
    period = calendar.period_of(now)
    return render(
        request,
        "ledger/plant.html",
        {
            "area": "plant",
            "stages": stages_on_line(vessels, totals),
            "vessels": found.table,
            "points": _points(account_points()),
            "line": _balance(site_line(period), vessels),
            "period": period,
            "period_name": calendar.name_of(period),
        },
    )


def stock_by_stage() -> dict[str, int]:
    """Pure alcohol now in each stage, casks and bottles included, from the sums kept by month."""
    totals: dict[str, int] = {}
    rows = AccountMonth.objects.filter(account__kind__in=(AccountKind.VESSEL, AccountKind.STOCK))
    for stage, net in rows.values_list("stage").annotate(Sum("pure_ul")):
        totals[stage] = totals.get(stage, 0) + net
    return totals


def _points(points: list[AccountPoint]) -> Table:
    """The points as they were taken last; one with an enquiry that nobody has answered is one to look at."""
    about = about_keys_and_records((), [(one.left.record_kind, one.left.record) for one in points])
    open_on = {one.enquiry.record_number for one in about if one.state in UNANSWERED}
    rows = [
        Row(
            [
                Cell(one.left.operation.capitalize()),
                Cell(
                    f"{one.left.record}, {figures.moment(one.left.at)}",
                    href=record_href(one.left.record_kind, one.left.record),
                ),
                Cell(figures.lpa(one.sent_ul)),
                Cell(figures.lpa(one.received_ul)),
                Cell(
                    figures.difference(one.left.difference_ul),
                    state=LOOK if one.left.is_beyond or one.left.record in open_on else None,
                ),
            ]
        )
        for one in points
    ]
    return Table(
        "Where alcohol is measured as it passes on",
        POINTS,
        rows,
        empty="Nothing has passed an account point yet. The first run or transfer makes one.",
        note="each as it was taken last; received includes known losses",
    )


def _balance(site: StageLine, vessels: list[VesselOnLine]) -> BalanceLine:
    last = oldest(vessels)
    note = "Casks and bottles stand in it by their book. Fermenting wash is not in it before it is declared."
    if last is not None and last.gauged_at is not None:
        note = f"Oldest figure of a vessel: {last.code}, {figures.moment(last.gauged_at)}. {note}"
    return BalanceLine(
        opening_ul=site.opening_ul,
        in_ul=site.in_ul,
        out_ul=site.out_ul,
        known_losses_ul=site.loss_ul,
        should_be_ul=site.should_be_ul,
        measured_ul=site.closing_ul,
        difference_ul=site.difference_ul,
        note=note,
    )
