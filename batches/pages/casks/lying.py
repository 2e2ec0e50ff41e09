"""What lies in a warehouse, row by row and tier by tier, and the same on paper for whoever walks it."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from django.db.models import Count, QuerySet
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from batches.casks.standing import is_gone
from batches.pages.casks.walk_sheet import MOST_ON_A_SHEET, walk_sheet_pdf
from batches.pages.casks.ways import warehouse_ways
from batches.pages.common import signed_on
from batches.pages.places.cask_table import CaskTable
from distillery.lists.columns import FigureColumn, ListColumn
from distillery.lists.showing import first_file, listed
from distillery.lists.tables import HouseTable
from distillery.plant.lookup import values_of_casks
from distillery.plant.models import Cask
from distillery.plant.places import in_walking_order, rows_of


@dataclass(frozen=True, slots=True)
class RowOfCasks:
    """One row of a warehouse: how many tiers it has by the site's list, how many casks lie on each of them."""

    warehouse: str
    row: str
    tiers: int | None
    casks: int
    on_tiers: str


class RowTable(HouseTable):
    """The rows of a warehouse in the order in which one walks."""

    row = ListColumn("Row", lambda one: one.row or "not recorded", href=lambda one: _href(one))
    tiers = FigureColumn("Tiers", lambda one: one.tiers, none="not entered")
    casks = FigureColumn("Casks", "casks")
    on_tiers = ListColumn("On each tier", "on_tiers")

    name = "rows"
    caption = "Rows"
    nothing = "No cask lies in this warehouse and no row of it is entered."


class LyingTable(CaskTable):
    """The casks of a warehouse where they lie."""

    name = "lying"
    caption = "Casks where they lie"

    class Meta(CaskTable.Meta):
        order_by = ("place",)
        exclude = ("wood", "size", "owner", "litres")


@require_safe
def lying(request: HttpRequest) -> HttpResponseBase:
    """`?warehouse=` and, where only one row is wanted, `&row=`."""
    warehouses = _warehouses()
    chosen = _chosen(request, warehouses)
    row = request.GET.get("row", "").strip()
    casks = _casks(chosen, row)
    rows = listed(request, RowTable, rows_of_casks(chosen), prefix="rows")
    found = listed(request, LyingTable, casks, prefix="lying")
    if (file := first_file(rows, found)) is not None:
        return file
    return render(
        request,
        "batches/lying.html",
        {
            "area": "warehouse",
            "warehouses": warehouses,
            "warehouse": chosen,
            "row": row,
            "rows": rows.table,
            "casks": found.table,
            **warehouse_ways(request),
        },
    )


@require_safe
def lying_pdf(request: HttpRequest) -> HttpResponse:
    """The walk sheet of a warehouse, or of one of its rows."""
    chosen, row = _chosen(request, _warehouses()), request.GET.get("row", "").strip()
    casks = sorted(_casks(chosen, row).order_by("row", "tier", "pk")[: MOST_ON_A_SHEET + 1], key=_walking)
    printed = walk_sheet_pdf(chosen, row, casks, printed_at=timezone.now(), printed_by=signed_on(request).shown_name)
    response = HttpResponse(printed, content_type="application/pdf")
    response["Content-Disposition"] = 'inline; filename="walk-sheet.pdf"'
    return response


def _href(one: RowOfCasks) -> str:
    """The page with the casks of one row; blank for those that lie in none."""
    return f"{reverse('lying')}?{urlencode({'warehouse': one.warehouse, 'row': one.row})}" if one.row else ""


def rows_of_casks(warehouse: str) -> list[RowOfCasks]:
    """The rows of a warehouse, those entered and those casks are said to lie in, with what lies in each."""
    counted: dict[str, dict[str, int]] = defaultdict(dict)
    lying = (
        Cask.objects.filter(~is_gone(), warehouse=warehouse)
        .order_by()
        .values_list("row", "tier")
        .annotate(number=Count("pk"))
    )
    for row, tier, number in lying:
        counted[row][tier] = number
    tiers = {one.row: one.tiers for one in rows_of(warehouse)} if warehouse else {}
    names = sorted({*counted, *tiers}, key=in_walking_order)
    return [
        RowOfCasks(warehouse, one, tiers.get(one), sum(counted[one].values()), _on_tiers(counted[one])) for one in names
    ]


def _on_tiers(counted: dict[str, int]) -> str:
    return ", ".join(
        f"tier {tier}: {counted[tier]}" if tier else f"no tier written: {counted[tier]}"
        for tier in sorted(counted, key=in_walking_order)
    )


def _warehouses() -> list[str]:
    named = {name for name, _ in values_of_casks("warehouse")} | {one.warehouse for one in rows_of()}
    return sorted(named, key=in_walking_order)


def _chosen(request: HttpRequest, warehouses: list[str]) -> str:
    wanted = request.GET.get("warehouse", "").strip()
    return wanted if wanted in warehouses else next(iter(warehouses), "")


def _casks(warehouse: str, row: str) -> QuerySet[Cask]:
    casks = Cask.objects.filter(~is_gone(), warehouse=warehouse).select_related("vessel")
    return casks.filter(row=row) if row else casks


def _walking(cask: Cask) -> tuple[Any, ...]:
    return tuple(in_walking_order(text) for text in (cask.row, cask.tier, cask.vessel.code))
