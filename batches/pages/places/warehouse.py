"""The warehouse: every cask with its book, and one cask with its fill, its years and its history.

A book figure is what the entries of the ledger come to; litres and strength follow from its alcohol and mass.
The list pages by the cask's code and asks the same few questions however many casks there are.
"""

from __future__ import annotations

from datetime import datetime

from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.safestring import SafeString

from batches.models import Mention, Record
from batches.pages.common import with_query
from batches.pages.records.shown import record_address, state_of, title_of
from distillery import charts, figures, pages
from distillery.clock.reading import books_now, site_day
from distillery.plant.models import Cask, Vessel
from distillery.plant.models import Kind as VesselKind
from distillery.rules import cask_loss
from distillery.rules.models import ONE
from distillery.rules.reading import NoRuleInForce, cask_band
from ledger.models import Account, Gauge, RunningBalance
from ledger.statements.balances import Holding, holdings
from ledger.views.ways import account_href

PAGE = 50
HISTORY = 100
BAND_POINTS_A_YEAR = 2


def warehouse(request: HttpRequest) -> HttpResponse:
    """Casks with what the book says is in them."""
    casks = Cask.objects.select_related("vessel")
    place, kind = request.GET.get("warehouse", ""), request.GET.get("kind", "")
    text = request.GET.get("q", "").strip()
    if place:
        casks = casks.filter(warehouse=place)
    if kind:
        casks = casks.filter(kind=kind)
    if text:
        casks = casks.filter(vessel__code__icontains=text)
    page, older, newer = _page(request, casks)
    held = {
        one.account.vessel_id: one
        for one in holdings(Account.objects.filter(vessel__in=[cask.vessel_id for cask in page]))
    }
    rows = [_row(cask, held.get(cask.vessel_id)) for cask in page]
    columns = [
        pages.Column("Cask"),
        pages.Column("Kind"),
        pages.Column("Warehouse"),
        pages.Column("Filled"),
        pages.Column("Age", numeric=True, unit="years"),
        pages.Column("Book", numeric=True, unit="LPA"),
        pages.Column("Litres", numeric=True, unit="L at 20 °C"),
        pages.Column("Strength", numeric=True, unit="% vol"),
        pages.Column("Last regauge"),
    ]
    filtered = bool(place or kind or text)
    empty = "No casks match. Clear the filter." if filtered else "No casks yet. They come with the plant."
    return render(
        request,
        "batches/warehouse.html",
        {
            "area": "warehouse",
            "table": pages.Table("Casks", columns, rows, empty=empty, wide=True),
            "older": older,
            "newer": newer,
            "places": _distinct("warehouse"),
            "kinds": _distinct("kind"),
            "place": place,
            "kind": kind,
            "text": text,
            "filtered": filtered,
        },
    )


def _page(request: HttpRequest, casks: QuerySet[Cask]) -> tuple[list[Cask], str, str]:
    after, before = request.GET.get("after", ""), request.GET.get("before", "")
    if before:
        found = list(casks.filter(vessel__code__lt=before).order_by("-vessel__code")[: PAGE + 1])
        has_earlier, has_later = len(found) > PAGE, True
        found = found[:PAGE][::-1]
    else:
        if after:
            casks = casks.filter(vessel__code__gt=after)
        found = list(casks.order_by("vessel__code")[: PAGE + 1])
        has_later, has_earlier = len(found) > PAGE, bool(after)
        found = found[:PAGE]
    drop = ("after", "before")
    later = with_query(request, drop=drop, after=found[-1].vessel.code) if found and has_later else ""
    earlier = with_query(request, drop=drop, before=found[0].vessel.code) if found and has_earlier else ""
    return found, later, earlier


def _distinct(field: str) -> list[str]:
    return list(Cask.objects.exclude(**{field: ""}).order_by(field).values_list(field, flat=True).distinct())


def _row(cask: Cask, holding: Holding | None) -> pages.Row:
    code = cask.vessel.code
    held = holding if holding is not None and holding.pure_ul else None
    gauge = held.last_gauge if held else None
    filled_at = cask.filled_at if held else None
    return pages.Row(
        [
            pages.Cell(code, href=reverse("cask", args=[code])),
            pages.Cell(cask.kind),
            pages.Cell(cask.warehouse),
            pages.Cell(figures.day(filled_at, year=True) if filled_at else "" if held else "Empty"),
            pages.Cell(_age(filled_at)),
            pages.Cell(figures.lpa(held.pure_ul) if held else ""),
            pages.Cell(figures.litres(held.litres20) if held and held.litres20 is not None else ""),
            pages.Cell(figures.percent(held.percent20) if held and held.percent20 is not None else ""),
            pages.Cell(figures.day(gauge.happened_at, year=True) if gauge else ""),
        ]
    )


def _age(filled_at: datetime | None) -> str:
    if filled_at is None or filled_at > books_now():
        return ""
    return figures.number(years_between(filled_at), 1)


def years_between(start: datetime, end: datetime | None = None) -> float:
    """Years from one moment to another, or to now."""
    return cask_loss.years_between(start, end or books_now())


def cask(request: HttpRequest, code: str) -> HttpResponse:
    """One cask: what is in it, since when, where that came from, and all that was written about it."""
    vessel = Vessel.objects.select_related("cask").filter(code=code, kind=VesselKind.CASK).first()
    if vessel is None:
        raise Http404(f"There is no cask {code}.")
    account = Account.objects.filter(vessel=vessel).first()
    held = holdings(Account.objects.filter(pk=account.pk))[0] if account else None
    gauges = (
        list(
            Gauge.objects.standing()
            .filter(account=account)
            .select_related("movement")
            .order_by("happened_at", "position")
        )
        if account
        else []
    )
    named = Mention.objects.filter(what=Mention.What.VESSEL, code__in={code, code.upper(), code.lower()})
    history = list(Record.objects.filter(pk__in=named.values("record")).order_by("-happened_from", "-pk")[:HISTORY])
    return render(
        request,
        "batches/cask.html",
        {
            "area": "warehouse",
            "vessel": vessel,
            "facts": _facts(vessel, held, history),
            "account": account_href(account) if account else "",
            "chart": _chart(vessel, account, gauges),
            "gauges": _gauges_table(gauges),
            "history": _history(history),
        },
    )


def _facts(vessel: Vessel, held: Holding | None, history: list[Record]) -> list[pages.Fact]:
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
        if age := _age(known.filled_at):
            facts.append(pages.Fact("Age", age, "years"))
    fill = next((one for one in history if known.filled_at and one.happened_from == known.filled_at), None)
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


def _gauges_table(gauges: list[Gauge]) -> pages.Table:
    columns = [
        pages.Column("Taken"),
        pages.Column("Record"),
        pages.Column("Measured", numeric=True, unit="LPA"),
        pages.Column("Book before", numeric=True, unit="LPA"),
        pages.Column("Strength", numeric=True, unit="% vol"),
        pages.Column("Litres", numeric=True, unit="L at 20 °C"),
    ]
    rows = [
        pages.Row(
            [
                pages.Cell(figures.moment(gauge.happened_at, year=True)),
                pages.Cell(
                    gauge.movement.record_number,
                    href=reverse("record", args=[gauge.movement.record_kind, gauge.movement.record_number]),
                ),
                pages.Cell(figures.lpa(gauge.pure_ul)),
                pages.Cell(figures.lpa(gauge.book_ul)),
                pages.Cell(figures.percent(gauge.percent20_millionths / ONE)),
                pages.Cell(figures.litres_from_ul(gauge.litres20_ul)),
            ]
        )
        for gauge in gauges
    ]
    return pages.Table("Regauges", columns, rows, empty="Not regauged yet.")


def _history(history: list[Record]) -> pages.Table:
    columns = [pages.Column(label) for label in ("Record", "What", "Happened", "State")]
    rows = []
    for record in history:
        state = state_of(record)
        rows.append(
            pages.Row(
                [
                    pages.Cell(record.number, href=record_address(record)),
                    pages.Cell(title_of(record.kind)),
                    pages.Cell(figures.moment(record.happened_from, year=True)),
                    pages.Cell("" if state else "Complete", state=state),
                ]
            )
        )
    return pages.Table("What was written about it", columns, rows, empty="Nothing was written about this cask yet.")
