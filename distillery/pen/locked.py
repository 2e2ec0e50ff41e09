"""The page that a locked PC shows, and what may still be seen on it: what is due and what must be done now."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from distillery.pages import Link
from distillery.typed.given_back import kept_of, typed_on


@dataclass(frozen=True, slots=True)
class Standing:
    """What a locked PC still says: lines of what must be done now and of what is due."""

    act_now: list[Link]
    due: list[Link]


# The floors above say here what is due; each is asked when a locked page is made.
TOLD: list[Callable[[], Standing]] = []


def standing() -> Standing:
    """All that is due and all that must be done now."""
    told = [tell() for tell in TOLD]
    return Standing([one for said in told for one in said.act_now], [one for said in told for one in said.due])


def locked_page(request: HttpRequest) -> HttpResponse:
    """A form sent from a locked PC: nothing is saved, and what was typed waits until somebody takes the pen."""
    from distillery.pen.forms import SignOnForm

    typed = typed_on(request)
    return render(
        request,
        "pen/locked.html",
        {
            "typed": typed,
            "kept": kept_of(typed),
            "where": request.get_full_path(),
            "form": SignOnForm(request),
            "chosen": request.user.get_username(),
            "standing": standing(),
        },
        status=403,
    )
