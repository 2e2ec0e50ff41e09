"""The first month of a new site, step by step, and what a manager may state, or take back."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST, require_safe

from batches.first_month import is_over, next_of, steps
from batches.pages.common import signed_on
from batches.pages.setting_up.declared import SETTINGS
from distillery.people.roles import PLANT_KEEPERS, holds, needs
from distillery.rules.setting.entering import Unsettable
from distillery.rules.site_facts import Statement
from distillery.rules.stating import TAKES_BACK, state, take_back

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
    """States one thing of the site, or takes it back with a reason, in the name of who presses."""
    back = next((one for one, name in TAKES_BACK.items() if name == what), None)
    if back is None and what not in Statement.What:
        raise Http404("There is nothing of that kind to state.")
    given = back or Statement.What(what)
    if back is None:
        state(given, person=signed_on(request))
        messages.success(request, f"{given.label}: kept with your name.")
    else:
        _taken_back(request, given)
    kind = next((one.kind for one in SETTINGS.values() if one.states == given), "")
    return redirect("site_setting", kind=kind) if kind and is_over() else redirect("first_month")


def _taken_back(request: HttpRequest, what: Statement.What) -> None:
    try:
        take_back(what, person=signed_on(request), reason=request.POST.get("reason", ""))
    except Unsettable as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.success(request, "Taken back: kept with your name. It may be stated anew.")
