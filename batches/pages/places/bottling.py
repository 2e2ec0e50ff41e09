"""Bottling and dispatch: what is bottled and in bond, what was bottled, what left and the duty on it."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import render
from django.urls import reverse

from batches.models import Record
from batches.pages.common import signed_on
from batches.pages.places.stock_tables import BottlingTable, RemovalFilters, RemovalTable, StockTable, stocks
from batches.pages.records.record_table import with_latest
from batches.steps import bottling as bottling_step
from batches.steps import removal as removal_step
from distillery.lists.showing import first_file, listed
from distillery.people.roles import may_write


def bottling(request: HttpRequest) -> HttpResponseBase:
    """Home of bottling and dispatch."""
    bottled, left = (with_latest(Record.objects.filter(kind=one.SHEET.kind)) for one in (bottling_step, removal_step))
    stock = listed(request, StockTable, stocks(), prefix="stock")
    bottlings = listed(request, BottlingTable, bottled, prefix="bottlings", sheet=bottling_step.SHEET)
    removals = listed(request, RemovalTable, left, RemovalFilters, prefix="removals")
    if (file := first_file(stock, bottlings, removals)) is not None:
        return file
    return render(
        request,
        "batches/bottling.html",
        {
            "area": "bottling",
            "stock": stock.table,
            "bottlings": bottlings.table,
            "removals": removals.table,
            "writes": may_write(signed_on(request)),
            "new_bottling": reverse("record_new", args=[bottling_step.SHEET.kind]),
            "new_removal": reverse("record_new", args=[removal_step.SHEET.kind]),
            "all_bottlings": reverse("record_list", args=[bottling_step.SHEET.kind]),
            "all_removals": reverse("record_list", args=[removal_step.SHEET.kind]),
        },
    )
