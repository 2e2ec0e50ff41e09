"""Pages of the instruments and the recipes: all may read them; plant keepers enter instruments, certificates,
calibrations and recipes, and whoever writes records may sign an obscuration."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from distillery.clock.reading import books_today
from distillery.lists.showing import first_file, listed
from distillery.pages import Link
from distillery.people.models import Person
from distillery.people.roles import PLANT_KEEPERS, WRITERS, holds, needs
from distillery.plant.forms import (
    CalibrationForm,
    CaskForm,
    CertificateForm,
    InstrumentForm,
    KeyholderForm,
    ObscurationForm,
    PlantForm,
    RecipeForm,
    RowsForm,
    TableForm,
    UseForm,
    VesselForm,
)
from distillery.plant.forms.places import as_known
from distillery.plant.outfit import Register
from distillery.plant.pages.printed import register_pdf
from distillery.plant.pages.recipe_list import RecipeTable, recipe_rows
from distillery.plant.pages.shown import register_lists
from distillery.plant.recipes import MILLIGRAMS_A_GRAM, known_recipes, newest

# Address, form, and who may fill it in.
ENTRIES: dict[str, tuple[type[PlantForm], frozenset[str]]] = {
    "instrument_new": (InstrumentForm, PLANT_KEEPERS),
    "instrument_use": (UseForm, PLANT_KEEPERS),
    "instrument_certificate": (CertificateForm, PLANT_KEEPERS),
    "vessel_calibration": (CalibrationForm, PLANT_KEEPERS),
    "obscuration_new": (ObscurationForm, WRITERS | PLANT_KEEPERS),
    "vessel_new": (VesselForm, PLANT_KEEPERS),
    "vessel_table": (TableForm, PLANT_KEEPERS),
    "recipe_new": (RecipeForm, PLANT_KEEPERS),
    "rows_new": (RowsForm, PLANT_KEEPERS),
    "keyholder_new": (KeyholderForm, PLANT_KEEPERS),
    "cask_entry": (CaskForm, PLANT_KEEPERS),
}
# Which place of the plant a form belongs to, where not to the instruments.
PLACES = {
    "vessel_new": "plant",
    "vessel_table": "plant",
    "recipe_new": "recipes",
    "rows_new": "warehouses_kept",
    "keyholder_new": "warehouses_kept",
    "cask_entry": "warehouse",
}
# Those of the plant; the others belong to the warehouse.
PLANT = ("plant", "instruments", "recipes")
# A page of the floor above, known here by its name only.
THEN = "first_month"


@require_safe
def instruments(request: HttpRequest) -> HttpResponseBase:
    """All that is known of the measuring."""
    register, today = Register.read(), books_today()
    lists = [
        listed(request, kind, rows, prefix=kind.name, register=register, on=today)
        for kind, rows in register_lists(register, today)
    ]
    if (file := first_file(*lists)) is not None:
        return file
    ways = [
        Link(form.title, reverse(name))
        for name, (form, roles) in ENTRIES.items()
        if holds(request.user, roles) and name not in PLACES
    ]
    return render(
        request,
        "plant/instruments.html",
        {"area": "plant", "lists": [one.table for one in lists], "ways": ways},
    )


@require_safe
def instruments_pdf(request: HttpRequest) -> HttpResponse:
    """The register on paper."""
    printed = register_pdf(printed_at=timezone.now(), printed_by=_person(request).shown_name)
    response = HttpResponse(printed, content_type="application/pdf")
    response["Content-Disposition"] = 'inline; filename="instruments.pdf"'
    return response


@require_safe
def recipes(request: HttpRequest) -> HttpResponseBase:
    """Every version of every recipe."""
    table = listed(request, RecipeTable, list(recipe_rows()))
    if (file := first_file(table)) is not None:
        return file
    form, roles = ENTRIES["recipe_new"]
    ways = [Link(form.title, reverse("recipe_new"))] if holds(request.user, roles) else []
    if ways:
        ways += [
            Link(f"New version of {one}", f"{reverse('recipe_new')}?{urlencode({'recipe': one})}")
            for one in known_recipes()
        ]
    return render(request, "plant/recipes.html", {"area": "plant", "list": table.table, "ways": ways})


def _as_it_stands(name: str, asked: dict[str, str]) -> dict[str, Any]:
    """What a form begins with: of a recipe that is asked for, the botanicals of its newest version; of a cask, what
    is known of it.
    """
    if name == "cask_entry":
        return as_known(asked.get("cask", "")) | asked
    if name != "recipe_new":
        return asked
    last = newest(asked.get("recipe", ""))
    if last is None:
        return asked
    lines = (f"{name} {milligrams / MILLIGRAMS_A_GRAM:g}" for name, milligrams in last.botanicals)
    return {"botanicals": "\n".join(lines)} | asked


def enter(request: HttpRequest, name: str) -> HttpResponseBase:
    """One of the forms: shown, or what was typed in it entered."""
    kind, roles = ENTRIES[name]
    place = PLACES.get(name, "instruments")
    # A new site comes from its list of what is to be done, and goes on there.
    then = THEN if request.GET.get("then") == THEN else ""

    @needs(roles)
    def entered(request: HttpRequest) -> HttpResponse:
        asked = _as_it_stands(name, request.GET.dict())
        form = kind(request.POST) if request.method == "POST" else kind(initial=asked)
        if form.is_bound and form.is_valid():
            said = form.keep(_person(request))
            if said:
                messages.success(request, said)
                return redirect(then or place)
        return render(
            request,
            "plant/entry.html",
            {
                "area": "plant" if place in PLANT else "warehouse",
                "form": form,
                "place": place if place in PLANT else "",
                "cancel": reverse(then or place),
            },
        )

    return entered(request)


def _person(request: HttpRequest) -> Person:
    assert isinstance(request.user, Person)
    return request.user
