"""The page of a kind of dated figure, the form for a new row of it, and what is due."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_safe

from batches.pages.common import signed_on
from batches.pages.setting_up import of_the_site as _declared  # noqa: F401
from batches.pages.setting_up.declared import SETTINGS, DatedSetting
from batches.pages.setting_up.first_month import BUTTONS
from batches.pages.setting_up.ways import site_places
from distillery.clock.reading import books_today
from distillery.lists.showing import listed
from distillery.pages import Link
from distillery.people.roles import PLANT_KEEPERS, SITE_READERS, holds, needs
from distillery.plant.due import due_list
from distillery.plant.due_list import DueTable
from distillery.rules.site_facts import Statement
from distillery.rules.stating import stated

# Where a form leads once it is saved, beside its own list.
THEN = ("first_month",)


@require_safe
def site_setting(request: HttpRequest, kind: str) -> HttpResponseBase:
    """Every row there ever was of one kind, and the way to a new one for those who may."""
    setting = _setting(kind)
    may = holds(request.user, PLANT_KEEPERS)
    rows = listed(request, setting.table, setting.model._default_manager.all(), setting=kind if may else "")
    if rows.file is not None:
        return rows.file
    statement = Statement.What(setting.states) if setting.states else None
    return render(
        request,
        "setting_up/setting.html",
        {
            "area": "site" if holds(request.user, SITE_READERS) else "records",
            "places": site_places(kind),
            "setting": setting,
            "list": rows.table,
            "new": Link(setting.form.title, reverse("site_setting_new", args=[kind])) if may else None,
            "ways": [Link(text, reverse(name)) for text, name in setting.ways],
            "statement": statement,
            "stated": stated(statement) if statement else None,
            "button": BUTTONS[statement] if statement and may else "",
        },
    )


@needs(PLANT_KEEPERS)
def site_setting_new(request: HttpRequest, kind: str) -> HttpResponse:
    """The form for a new row: shown, beginning with the row that is to be set anew, or what was typed in it kept."""
    setting = _setting(kind)
    form = (
        setting.form(request.POST) if request.method == "POST" else setting.form(initial=_begins_with(setting, request))
    )
    if form.is_bound and form.is_valid() and (said := form.keep(signed_on(request))):
        messages.success(request, said)
        return redirect(then_of(request)) if then_of(request) else redirect("site_setting", kind=kind)
    cancel = reverse(then_of(request)) if then_of(request) else reverse("site_setting", args=[kind])
    return render(request, "batches/site_entry.html", {"area": "site", "form": form, "cancel": cancel})


@require_safe
def due(request: HttpRequest) -> HttpResponseBase:
    """When the next certificate of each instrument and the next calibration of each table is due."""
    rows = listed(request, DueTable, due_list(books_today()))
    if rows.file is not None:
        return rows.file
    may = holds(request.user, PLANT_KEEPERS)
    area = "site" if holds(request.user, SITE_READERS) else "plant"
    context = {"area": area, "places": site_places("due"), "list": rows.table, "may": may}
    return render(request, "setting_up/due.html", context)


def then_of(request: HttpRequest) -> str:
    """The route a form leads to once it is saved; blank for its own list."""
    asked = request.GET.get("then", "")
    return asked if asked in THEN else ""


def _setting(kind: str) -> DatedSetting:
    if kind not in SETTINGS:
        raise Http404(f"The site has no figures called {kind[:40]}.")
    return SETTINGS[kind]


def _begins_with(setting: DatedSetting, request: HttpRequest) -> dict[str, Any]:
    asked = request.GET.get("row", "")
    if not (asked.isascii() and asked.isdigit() and len(asked) <= 18):
        return {}
    row = setting.model._default_manager.filter(pk=int(asked)).first()
    return {} if row is None else dict(setting.form.as_it_stands(row))
