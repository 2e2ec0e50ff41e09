"""The plant at a glance: the line of vessels, the account points along it, and the balance of the whole site."""

from __future__ import annotations

from typing import Final

from django.db.models import F, Sum
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import render

from distillery import figures
from distillery.clock.reading import books_now
from distillery.lists.showing import listed
from distillery.pages import LOOK, BalanceLine, Cell, Column, Row, Table
from ledger.enquiries.standing import UNANSWERED, about_keys_and_records
from ledger.models import StageMonth
from ledger.periods.calendar import Calendar
from ledger.statements.account_points import AccountPoint, account_points
from ledger.statements.at_work import at_work, on_in_vessels
from ledger.statements.balances import vessel_holdings
from ledger.statements.cleaned import cleaned
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
    holdings = vessel_holdings()
    vessels = vessels_on_line(holdings, at_work(), on_in_vessels(), cleaned(holdings, now), now)
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
    """Pure alcohol now in each stage, casks and bottles included: what the lines of all months let in and not out.

    From the lines and not from the accounts, of which a site may have any number; the proof holds the two together.
    """
    left = Sum(F("in_ul") - F("out_ul") - F("loss_ul") - F("difference_ul"))
    return dict(StageMonth.objects.order_by().values("stage").annotate(left=left).values_list("stage", "left"))


def _points(points: list[AccountPoint]) -> Table:
    """The points as they were taken last; beyond its threshold, or with an enquiry open, one is to be looked at."""
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
