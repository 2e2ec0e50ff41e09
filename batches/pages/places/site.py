"""The site as it is set up: the ways to its figures and people, and lists of vessels, rates, PCs and tries.

To be read here; each kind of figure has a page of its own (`batches.pages.setting_up`), where a new row is entered.
"""

from __future__ import annotations

from typing import Any

from django.db.models import Count, Max
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import render

from batches.pages.bringing.views import bring_in
from batches.pages.places.rule_tables import (
    CountedCasksTable,
    NominalQuantityTable,
    PackageErrorTable,
    RateTable,
    RoundingTable,
    VesselTable,
)
from batches.pages.setting_up.declared import SETTINGS
from batches.pages.setting_up.told import due_link
from batches.pages.setting_up.ways import first_month_link, retention, site_places
from distillery.lists.showing import first_file, listed
from distillery.lists.tables import HouseTable
from distillery.pen.pcs import pc_of
from distillery.pen.tables import passes_list, pen_lists
from distillery.people.roles import PLANT_KEEPERS, SITE_READERS, holds, may_open, needs
from distillery.plant.lookup import FIXED
from distillery.plant.models import Cask, Vessel
from distillery.rules.in_force import rounding_rules
from distillery.rules.models import (
    DutyRate,
    NominalQuantity,
    PackageError,
)
from distillery.tokens.views import tokens


@needs(SITE_READERS)
def site(request: HttpRequest) -> HttpResponseBase:
    """The ways to all that the site has set up, and the lists that have no page of their own."""
    keeps = holds(request.user, PLANT_KEEPERS)
    vessels = Vessel.objects.filter(kind__in=FIXED).annotate(
        points=Count("calibration", distinct=True), calibrated=Max("calibrations__from_day")
    )
    counted = Cask.objects.values("warehouse", "kind").annotate(number=Count("pk")).order_by("warehouse", "kind")
    every: list[tuple[type[HouseTable], Any]] = [
        (VesselTable, vessels),
        (CountedCasksTable, list(counted)),
        (RateTable, DutyRate.objects.all()),
        (RoundingTable, rounding_rules()),
        (PackageErrorTable, PackageError.objects.all()),
        (NominalQuantityTable, NominalQuantity.objects.all()),
        # Which PCs, PINs and tries there are is for those who look after them.
        *(pen_lists() if keeps else [passes_list()]),
    ]
    lists = [listed(request, kind, rows, prefix=kind.name) for kind, rows in every]
    if (file := first_file(*lists)) is not None:
        return file
    context = {
        "area": "site",
        "places": site_places("site"),
        "settings": list(SETTINGS.values()),
        "lists": [one.table for one in lists],
        "keeps": keeps,
        "pc": pc_of(request),
        "first_month": first_month_link(),
        "due": due_link(),
        "retention": retention(),
        "may_make_tokens": may_open(request.user, tokens),
        "may_bring_in": may_open(request.user, bring_in),
    }
    return render(request, "batches/site.html", context)
