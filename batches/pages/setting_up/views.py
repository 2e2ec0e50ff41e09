"""The page of a kind of dated figure, and what is due."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from batches.pages.setting_up.asked import waiting_links
from batches.pages.setting_up.declared import setting_of
from batches.pages.setting_up.first_month import BUTTONS
from batches.pages.setting_up.ways import site_places
from distillery.clock.reading import books_today
from distillery.figures import moment
from distillery.lists.showing import listed
from distillery.pages import Link
from distillery.people.roles import PLANT_KEEPERS, SITE_READERS, holds
from distillery.plant.due import due_list
from distillery.plant.pages.due_list import DueTable
from distillery.rules.setting import two_hands
from distillery.rules.site_facts import Statement
from distillery.rules.stating import TAKES_BACK, statements

# Where a form leads once it is saved, beside its own list.
THEN = ("first_month",)


@require_safe
def site_setting(request: HttpRequest, kind: str) -> HttpResponseBase:
    """Every row there ever was of one kind, and the way to a new one for those who may."""
    setting = setting_of(kind)
    may = holds(request.user, PLANT_KEEPERS)
    alone = two_hands.one_writer() if setting.form.two_hands else ""
    every = setting.model._default_manager.all()
    rows = listed(request, setting.table, every, setting=kind if may else "", on_paper=alone)
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
            "waiting": waiting_links(kind),
            "one_writer": alone,
            **(_stated(statement, may=may) if statement else {}),
        },
    )


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


def _stated(what: Statement.What, *, may: bool) -> dict[str, Any]:
    """What was stated and taken back in place of a new row, the newest first, and what may be done about it now."""
    every = statements(what)
    stands = bool(every) and every[0].what == what
    return {
        "statement": what,
        "statements": [_in_words(one, is_stated=one.what == what) for one in every],
        "button": BUTTONS[what] if may and not stands else "",
        "takes_back": TAKES_BACK.get(what, "") if may and stands else "",
    }


def _in_words(one: Statement, *, is_stated: bool) -> str:
    who = f"{'stated' if is_stated else 'taken back'} by {one.person.shown_name}, {moment(one.entered_at, year=True)}"
    return f"{who}: {one.said}" if one.said else who


def then_of(request: HttpRequest) -> str:
    """The route a form leads to once it is saved; blank for its own list."""
    asked = request.GET.get("then", "")
    return asked if asked in THEN else ""
