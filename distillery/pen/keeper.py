"""Stands around every page of who is signed on: ends what has ended, keeps writing from a locked PC, keeps no copy."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from urllib.parse import urlencode

from django.contrib.auth import logout
from django.http import HttpRequest, HttpResponse, HttpResponseBase, JsonResponse
from django.shortcuts import redirect
from django.urls import reverse

from distillery.pen.lasting import BACKGROUND, lasting, note_seen
from distillery.pen.locked import locked_page
from distillery.pen.trying.passes import ended_pass
from distillery.people.models import Person
from distillery.people.roles import OFFICER, holds

View = Callable[..., HttpResponseBase]


def open_when_locked(view: View) -> View:
    """Marks a view that a locked PC may still ask for: nothing of the books is on it, and it writes nothing in them."""
    view.open_when_locked = True  # type: ignore[attr-defined]
    return view


class KeepsThePen:
    """Ends sessions that lasted long enough or were taken to another PC; refuses a locked PC, with what was typed."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self._get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """The page, with no copy of it kept anywhere."""
        response = self._get_response(request)
        if request.user.is_authenticated:
            response.headers.setdefault("Cache-Control", "no-store")
            if not lasting(request).locked:
                note_seen(request, response)
        if request.META.get(BACKGROUND):
            # Asked before somebody signed on and answered after it, this would put another token in the place of the
            # one on their page, and what they write next would be refused.
            request.META["CSRF_COOKIE_NEEDS_UPDATE"] = False
        return response

    def process_view(
        self, request: HttpRequest, view: View, args: tuple[Any, ...], kwargs: dict[str, Any]
    ) -> HttpResponseBase | None:
        """Nothing where the page may be made; else why not."""
        if not isinstance(request.user, Person):
            return None
        if lasting(request).ended or _read_long_enough(request.user):
            logout(request)
            return None
        if not lasting(request).locked or not getattr(view, "login_required", True):
            return None
        if getattr(view, "open_when_locked", False):
            return None
        if request.headers.get("Accept", "").startswith("application/json"):
            return JsonResponse({"locked": True}, status=403)
        if request.method in ("GET", "HEAD"):
            return redirect(f"{reverse('login')}?{urlencode({'next': request.get_full_path()})}")
        return locked_page(request)


def _read_long_enough(person: Person) -> bool:
    """Whether an officer's pass has ended meanwhile; nobody else has one."""
    return holds(person, frozenset({OFFICER})) and ended_pass(person) is not None
