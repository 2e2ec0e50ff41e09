"""The rows of the warehouses and who holds their keys, as the site has entered them."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from batches.pages.casks.ways import books_of_the_warehouse
from distillery.lists.showing import first_file, listed
from distillery.pages import Link
from distillery.people.roles import PLANT_KEEPERS, holds
from distillery.plant.forms import KeyholderForm, RowsForm
from distillery.plant.pages.place_lists import KeyholderTable, WarehouseRowTable
from distillery.plant.places import keyholders, rows_of


@require_safe
def warehouses_kept(request: HttpRequest) -> HttpResponseBase:
    """Both lists, with the ways to enter more for those who may."""
    rows = listed(request, WarehouseRowTable, rows_of(), prefix="rows")
    keys = listed(request, KeyholderTable, keyholders(), prefix="keys")
    if (file := first_file(rows, keys)) is not None:
        return file
    forms = (("rows_new", RowsForm), ("keyholder_new", KeyholderForm))
    may_enter = holds(request.user, PLANT_KEEPERS)
    return render(
        request,
        "plant/warehouses.html",
        {
            "area": "warehouse",
            "lists": [rows.table, keys.table],
            "ways": [Link(form.title, reverse(name)) for name, form in forms] if may_enter else [],
            "books": books_of_the_warehouse(),
        },
    )
