"""Bottling and dispatch: what is bottled and in bond, what was bottled, what left and the duty on it."""

from __future__ import annotations

from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import render
from django.urls import reverse

from batches.models import Record
from batches.pages.common import signed_on
from batches.pages.places.lot_tables import LotStockFilters, LotStockTable, lots
from batches.pages.places.stock_tables import BottlingTable, RemovalFilters, RemovalTable, StockTable, stocks
from batches.pages.recalling.said import recalls_in_stock
from batches.pages.records.record_table import with_latest
from batches.sheets.register import all_sheets
from batches.sheets.sheet import Sheet
from distillery.lists.showing import first_file, listed
from distillery.pages import Link
from distillery.people.roles import may_write


def bottling(request: HttpRequest) -> HttpResponseBase:
    """Home of bottling and dispatch."""
    filling = [sheet for sheet in all_sheets() if sheet.fills_bottles]
    leaving = [sheet for sheet in all_sheets() if sheet.bottles_leave is not None]
    back = [sheet for sheet in all_sheets() if sheet.takes_bottles]
    stock = listed(request, StockTable, stocks(), prefix="stock")
    by_lot = listed(request, LotStockTable, lots(), LotStockFilters, prefix="lots")
    bottled = [listed(request, BottlingTable, _of(sheet), prefix=sheet.table, sheet=sheet) for sheet in filling]
    left = [
        listed(request, RemovalTable, _of(sheet), RemovalFilters, prefix=sheet.table, sheet=sheet) for sheet in leaving
    ]
    if (file := first_file(stock, by_lot, *bottled, *left)) is not None:
        return file
    return render(
        request,
        "batches/bottling.html",
        {
            "area": "bottling",
            "recalled": recalls_in_stock(stocks()),
            "stock": stock.table,
            "by_lot": by_lot.table,
            "lists": [
                (one.table, Link(f"{sheet.plural} by vessel and person", reverse("record_list", args=[sheet.kind])))
                for sheet, one in zip((*filling, *leaving), (*bottled, *left), strict=True)
            ],
            "new": [
                Link(f"New {sheet.title.lower()}", reverse("record_new", args=[sheet.kind]))
                for sheet in (*filling, *leaving, *back)
            ]
            if may_write(signed_on(request))
            else [],
        },
    )


def _of(sheet: Sheet) -> QuerySet[Record]:
    return with_latest(Record.objects.filter(kind=sheet.kind))
