"""The warehouse: the register of every cask with its book.

A book figure is what the entries of the ledger come to; litres and strength follow from its alcohol and mass.
Lists page by key and ask the same few questions however many casks there are.
"""

from __future__ import annotations

from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import render

from batches.pages.casks.ways import warehouse_ways
from batches.pages.places.cask_table import CaskFilters, CaskTable
from distillery.lists.showing import listed
from distillery.plant.models import Cask


def warehouse(request: HttpRequest) -> HttpResponseBase:
    """Casks with what the book says is in them."""
    found = listed(request, CaskTable, Cask.objects.select_related("vessel"), CaskFilters)
    if found.file is not None:
        return found.file
    return render(
        request, "batches/warehouse.html", {"area": "warehouse", "casks": found.table, **warehouse_ways(request)}
    )
