"""The warehouse: every cask with its book, and one cask with its fill, its years and its history.

A book figure is what the entries of the ledger come to; litres and strength follow from its alcohol and mass.
Lists page by key and ask the same few questions however many casks there are.
"""

from __future__ import annotations

from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponseBase
from django.shortcuts import render
from django.utils.safestring import SafeString

from batches.models import Mention, Record
from batches.pages.places.cask_table import (
    CaskFilters,
    CaskGaugeTable,
    CaskTable,
    HistoryTable,
    age_of,
    years_between,
)
from batches.pages.recalling.said import recalls_in
from batches.pages.records.shown import record_address, title_of
from batches.pages.tracing.names import trace_address
from distillery import charts, figures, pages
from distillery.clock.reading import books_now, site_day
from distillery.lists.showing import first_file, listed
from distillery.plant.models import Cask, Vessel
from distillery.plant.models import Kind as VesselKind
from distillery.rules.in_force import NoRuleInForce, cask_band
from distillery.rules.models import ONE
from ledger.models import Account, Gauge, RunningBalance
from ledger.statements.balances import Holding, holdings
from ledger.views.ways import account_href

BAND_POINTS_A_YEAR = 2


def warehouse(request: HttpRequest) -> HttpResponseBase:
    """Casks with what the book says is in them."""
    found = listed(request, CaskTable, Cask.objects.select_related("vessel"), CaskFilters)
    if found.file is not None:
        return found.file
    return render(request, "batches/warehouse.html", {"area": "warehouse", "casks": found.table})


def cask(request: HttpRequest, code: str) -> HttpResponseBase:
    """One cask: what is in it, since when, where that came from, and all that was written about it."""
    vessel = Vessel.objects.select_related("cask").filter(code=code, kind=VesselKind.CASK).first()
    if vessel is None:
        raise Http404(f"There is no cask {code}.")
    account = Account.objects.filter(vessel=vessel).first()
    held = holdings(Account.objects.filter(pk=account.pk))[0] if account else None
    taken = Gauge.objects.standing().filter(account=account).select_related("movement")
    named = Mention.objects.filter(what=Mention.What.VESSEL, code__in={code, code.upper(), code.lower()})
    written = Record.objects.filter(pk__in=named.values("record"))
    gauges = listed(request, CaskGaugeTable, taken, prefix="gauges")
    history = listed(request, HistoryTable, written, prefix="history")
    if (file := first_file(gauges, history)) is not None:
        return file
    in_order = list(taken.order_by("happened_at", "position"))
    return render(
        request,
        "batches/cask.html",
        {
            "area": "warehouse",
            "vessel": vessel,
            "facts": _facts(vessel, held, _filling(vessel, written)),
            "account": account_href(account) if account else "",
            "chart": _chart(vessel, account, in_order),
            "recalled": recalls_in(account),
            "trace": trace_address(vessel.code),
            "gauges": gauges.table,
            "history": history.table,
        },
    )


def _filling(vessel: Vessel, written: QuerySet[Record]) -> Record | None:
    """The record that filled a cask last."""
    filled_at = vessel.cask.filled_at
    return written.filter(happened_from=filled_at).first() if filled_at else None


def _facts(vessel: Vessel, held: Holding | None, fill: Record | None) -> list[pages.Fact]:
    known = vessel.cask
    full = held is not None and held.pure_ul > 0
    facts = [
        pages.Fact("Kind", known.kind),
        pages.Fact("Fill", str(known.fill_number)),
        pages.Fact("Size", figures.litres_from_ul(known.nominal_ul, 0), "L"),
        pages.Fact("Warehouse", known.warehouse or "not recorded"),
    ]
    if held is None or not full:
        return [*facts, pages.Fact("Book", figures.lpa(0), "LPA", note="empty")]
    facts.append(pages.Fact("Book", figures.lpa(held.pure_ul), "LPA"))
    if held.litres20 is not None and held.percent20 is not None:
        facts.append(pages.Fact("Litres at 20 °C", figures.litres(held.litres20), "L"))
        facts.append(pages.Fact("Strength at 20 °C", figures.percent(held.percent20), "% vol"))
    if known.filled_at:
        facts.append(pages.Fact("Filled", figures.day(known.filled_at, year=True)))
        if (age := age_of(known)) is not None:
            facts.append(pages.Fact("Age", figures.number(age, 1), "years"))
    if fill is not None:
        note = title_of(fill.kind).lower()
        facts.append(pages.Fact("Filled by", fill.number, href=record_address(fill), note=note))
    return facts


def _chart(vessel: Vessel, account: Account | None, gauges: list[Gauge]) -> SafeString:
    filled_at = vessel.cask.filled_at
    if account is None or filled_at is None:
        return SafeString("")
    running = list(
        RunningBalance.objects.filter(account=account, happened_at__gte=filled_at)
        .order_by("happened_at", "position", "leg_id")
        .values_list("happened_at", "balance_ul")
    )
    if not running:
        return SafeString("")
    book = [charts.Spot(years_between(filled_at, at), balance / ONE) for at, balance in running]
    regauges = [
        charts.Regauge(years_between(filled_at, gauge.happened_at), gauge.pure_ul / ONE)
        for gauge in gauges
        if gauge.happened_at > filled_at
    ]
    return charts.cask_chart(
        regauges, name="years", title=f"Cask {vessel.code} over its years", book=book, band=_band(vessel, book[0].value)
    )


def _band(vessel: Vessel, filled_lpa: float) -> list[charts.BandPoint]:
    known = vessel.cask
    if known.filled_at is None:
        return []
    try:
        band = cask_band(known.warehouse, known.kind, site_day(books_now()))
    except NoRuleInForce:
        return []
    age = max(years_between(known.filled_at), 1.0)
    steps = max(2, round(age * BAND_POINTS_A_YEAR))
    ages = [age * step / steps for step in range(steps + 1)]
    shares = [band.yearly.left_after(years) for years in ages]
    return [
        charts.BandPoint(years, filled_lpa * left.least, filled_lpa * left.most)
        for years, left in zip(ages, shares, strict=True)
    ]
