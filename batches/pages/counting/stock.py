"""Stock on a day: vessels, casks and bottled stock, each with how it is known; lists that are streamed as files."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Any

from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import render
from django.urls import reverse

from batches.counting.on_site import SAID_IN_LIST, NotADay, StockOn
from distillery import figures
from distillery.lists.columns import FigureColumn, ListColumn, LpaColumn, MomentColumn
from distillery.lists.showing import first_file, listed
from distillery.lists.tables import HouseTable
from ledger.views.ways import books_places

NOT_DECLARED = "not declared"


def _basis(row: Any) -> str:
    return str(SAID_IN_LIST.get(row.basis, row.basis)) + (", seen" if row.basis in SAID_IN_LIST else "")


class VesselStockTable(HouseTable):
    """What vessels held."""

    code = ListColumn("Vessel", "code", href=lambda row: reverse("vessel_account", args=[row.code]))
    place = ListColumn("Place", "place")
    litres = FigureColumn("Litres", "litres", places=1, unit="L at 20 °C", none="gauge to tell")
    percent = FigureColumn("Strength", "percent", places=1, unit="% vol", none=NOT_DECLARED)
    alcohol = LpaColumn("Alcohol", "pure_ul")
    basis = ListColumn("Known by", _basis)
    at = MomentColumn("Since", "at", none="never gauged")
    said = ListColumn("At work", "said")

    name, caption = "vessels", "Vessels"
    nothing = "No vessel has held anything yet."
    adds_up = True

    def totals(self, rows: Iterable[Any]) -> Mapping[str, Any]:
        found = list(rows)
        return {"alcohol": sum(one.pure_ul for one in found)} if found else {}


class CaskStockTable(HouseTable):
    """What casks held, where they lie."""

    code = ListColumn("Cask", "vessel__code", href=lambda row: reverse("cask", args=[row.vessel.code]))
    place = ListColumn("Place", lambda row: row.item.place, order=("warehouse", "row", "tier", "pk"))
    litres = FigureColumn("Litres", lambda row: row.item.litres, places=1, unit="L at 20 °C", none="gauge to tell")
    percent = FigureColumn("Strength", lambda row: row.item.percent, places=1, unit="% vol", none="gauge to tell")
    alcohol = LpaColumn("Alcohol", lambda row: row.item.pure_ul)
    basis = ListColumn("Known by", lambda row: _basis(row.item))
    at = MomentColumn("Since", lambda row: row.item.at, none="not known")

    name, caption = "casks", "Full casks where they lie"
    nothing = "No cask was full on that day."

    class Meta(HouseTable.Meta):
        order_by = ("place",)

    def __init__(self, data: Any, *, stock: StockOn, **more: Any) -> None:
        self.stock = stock
        super().__init__(data, **more)

    def prepare(self, rows: Sequence[Any]) -> None:
        for row, item in zip(rows, self.stock.of_casks(rows), strict=True):
            row.item = item


class BottledTable(HouseTable):
    """Bottled stock by product and lot."""

    said = ListColumn("Stock", "said")
    code = ListColumn("Lot", "code", none="not known")
    bottles = FigureColumn("Bottles", "bottles")
    litres = FigureColumn("Litres", "litres", places=1, unit="L")
    percent = FigureColumn("Strength", "percent", places=1, unit="% vol")
    alcohol = LpaColumn("Alcohol", "pure_ul")
    basis = ListColumn("Known by", _basis)
    at = MomentColumn("Since", "at")

    name, caption = "bottles", "Bottled stock"
    nothing = "No bottles were in bond on that day."
    adds_up = True

    def totals(self, rows: Iterable[Any]) -> Mapping[str, Any]:
        found = list(rows)
        if not found:
            return {}
        return {"alcohol": sum(one.pure_ul for one in found), "bottles": sum(one.bottles for one in found)}


def stock_on(request: HttpRequest) -> HttpResponseBase:
    """Vessels and bottled stock at the end of the day in `?on=`, or now; a day that cannot be is answered with today
    and a word.
    """
    stock, refused = _asked(request)
    said = f"at the end of {figures.day(stock.day, year=True)}"
    vessels = listed(request, VesselStockTable, stock.vessels(), prefix="vessels", note=said)
    bottled = listed(request, BottledTable, stock.bottled(), prefix="bottles", note=said)
    if (file := first_file(vessels, bottled)) is not None:
        return file
    return _page(request, stock, refused, [vessels.table, bottled.table], of_casks=False)


def stock_casks(request: HttpRequest) -> HttpResponseBase:
    """The warehouse stock list: every full cask at the end of the day in `?on=`, or now, where it lies."""
    stock, refused = _asked(request)
    said = f"at the end of {figures.day(stock.day, year=True)}"
    casks = listed(request, CaskStockTable, stock.casks(), prefix="casks", stock=stock, note=said)
    return casks.file or _page(request, stock, refused, [casks.table], of_casks=True)


def _asked(request: HttpRequest) -> tuple[StockOn, str]:
    """The stock of the day that is asked for, and why it is that of today where another day was."""
    typed = request.GET.get("on", "").strip()
    try:
        return StockOn(date.fromisoformat(typed) if typed else None), ""
    except NotADay as error:
        return StockOn(), str(error)
    except ValueError:
        return StockOn(), f"'{typed[:20]}' is not a day; write it as 2027-03-31."


def _page(
    request: HttpRequest, stock: StockOn, refused: str, lists: list[HouseTable], *, of_casks: bool
) -> HttpResponseBase:
    return render(
        request,
        "counting/stock.html",
        {
            "area": "books",
            "density": "paper",
            "places": books_places("stock_on"),
            "day": stock.day,
            "typed": request.GET.get("on", "").strip() if refused else stock.day.isoformat(),
            "refused": refused,
            "lists": lists,
            "of_casks": of_casks,
        },
    )
