"""What an officer asks for: on the first page of Records for an officer, and on a page of its own for the site."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import render
from django.views.decorators.http import require_safe

from batches.pages.bundle.months import Months, NoSuchMonths, months_of
from batches.pages.bundle.views import MonthsForm
from batches.pages.common import signed_on
from batches.pages.officer.asked_for import AskedFor, asked_for
from batches.returns.months import return_months
from distillery import figures
from distillery.clock.reading import books_today
from distillery.lists.columns import ListColumn
from distillery.lists.showing import Listed, listed
from distillery.lists.tables import HouseTable
from distillery.pen.trying.passes import last_pass
from distillery.people.models import Person
from distillery.people.roles import is_officer


class AskedForTable(HouseTable):
    """Everything that an officer asks for, with its page, what belongs to it, and its print."""

    what = ListColumn("Asked for", "what")
    page = ListColumn("On the page", "page__text", href=lambda row: row.page.href)
    also = ListColumn("With it", lambda row: row.also.text if row.also else "", href=lambda row: _href(row))
    paper = ListColumn("On paper (PDF)", "paper__text", href=lambda row: row.paper.href)

    name, caption = "asked-for", "What an officer asks for"
    nothing = "Nothing has been written yet."


def _href(row: AskedFor) -> str:
    return row.also.href if row.also else ""


@dataclass(frozen=True, slots=True)
class Shown:
    """The list with the form that chooses its months; `context` is what the pages with it need."""

    found: Listed[AskedForTable]
    context: dict[str, Any]


def shown_for(request: HttpRequest) -> Shown:
    """The list of the months in `?first=` and `?last=`, else of the newest month that is over."""
    today = books_today()
    known = return_months(today)
    newest = next((one.code for one in known if one.last_day < today), known[0].code if known else "")
    chosen = {"first", "last"} <= request.GET.keys()
    form = MonthsForm(request.GET if chosen else None, known, newest)
    months: Months | None = months_of(newest, newest) if newest else None
    if form.is_valid():
        try:
            months = months_of(form.cleaned_data["first"], form.cleaned_data["last"])
        except NoSuchMonths as refused:
            form.add_error("last", str(refused))
    rows = asked_for(months) if months is not None else []
    note = f"of {months.name}; what goes by one month opens at the last of them" if months is not None else ""
    found = listed(request, AskedForTable, rows, prefix=AskedForTable.name, note=note)
    person = signed_on(request)
    return Shown(
        found,
        {
            "asked_for": found.table,
            "months": form,
            "any_month": months is not None,
            "kept_of_visit": _kept_of_visit(person) if is_officer(person) else "",
        },
    )


@require_safe
def asked_for_page(request: HttpRequest) -> HttpResponseBase:
    """The list by itself."""
    shown = shown_for(request)
    if shown.found.file is not None:
        return shown.found.file
    return render(request, "officer/asked_for.html", {"area": "records"} | shown.context)


def _kept_of_visit(person: Person) -> str:
    """What an officer is told of what is kept, and how long the pass lasts."""
    said = (
        "You read everything here and change nothing. Kept with your name are your sign-on, what you print, the "
        "bundles and exports you ask for, and the visit notes you write; what you look at is not."
    )
    given = last_pass(person)
    return said if given is None else f"{said} Your pass ends {figures.moment(given.ends_at, year=True)}."
