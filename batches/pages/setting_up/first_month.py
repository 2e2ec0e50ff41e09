"""The first month of a new site, step by step, and what a manager may state in place of a step."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST, require_safe

from batches.first_month import is_over, next_of, steps
from batches.pages.common import signed_on
from batches.pages.setting_up.declared import SETTINGS
from distillery.people.roles import PLANT_KEEPERS, holds, needs
from distillery.rules.site_facts import Statement
from distillery.rules.stating import state

# What the button says of each statement.
BUTTONS = {
    Statement.What.FIGURES: "I have looked through them: they stand",
    Statement.What.MONTHS: "We account by calendar months",
    Statement.What.NOTHING_HELD: "We begin with nothing",
    Statement.What.MADE_AS_SCOTCH: "Our whisky is made so",
}


@require_safe
def first_month(request: HttpRequest) -> HttpResponse:
    """What is to be done, what is done, and the next of it first."""
    found = steps()
    return render(
        request,
        "setting_up/first_month.html",
        {
            "area": "site" if holds(request.user, PLANT_KEEPERS) else "shift",
            "steps": [(one, BUTTONS.get(Statement.What(one.what), "") if one.what else "") for one in found],
            "next": next_of(found),
            "done": sum(one.done for one in found),
            "over": is_over(),
            "may": holds(request.user, PLANT_KEEPERS),
        },
    )


@require_POST
@needs(PLANT_KEEPERS)
def first_month_state(request: HttpRequest, what: str) -> HttpResponse:
    """States one thing of the site in the name of who presses."""
    if what not in Statement.What:
        raise Http404("There is nothing of that kind to state.")
    given = Statement.What(what)
    state(given, person=signed_on(request))
    messages.success(request, f"{given.label}: kept with your name.")
    kind = next((one.kind for one in SETTINGS.values() if one.states == given), "")
    return redirect("site_setting", kind=kind) if kind and is_over() else redirect("first_month")
