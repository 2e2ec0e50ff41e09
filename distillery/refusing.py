"""Requests that cannot be read and errors from outside: each gets a page of its own that says what to do.

A NUL character has no place in any text: PostgreSQL keeps none (its documentation, section 8.3) and no keyboard types
one. It is refused here, once, before anything looks at the request.
"""

from __future__ import annotations

import logging
import sys
from collections.abc import Callable, Iterator

from django.contrib.auth.middleware import LoginRequiredMiddleware
from django.core.exceptions import RequestDataTooBig, SuspiciousOperation, TooManyFieldsSent, TooManyFilesSent
from django.db import DatabaseError
from django.http import HttpRequest, HttpResponse, HttpResponseBase, JsonResponse, UnreadablePostError
from django.shortcuts import render
from django.template.loader import render_to_string
from django.utils.encoding import escape_uri_path

from distillery.database.full_disk import FullDisk, is_full
from distillery.database.retrying import Away, Busy, is_away, is_busy
from distillery.typed.given_back import NUL, signed_off, typed_on

log = logging.getLogger(__name__)

UNREADABLE = "What was sent holds a character (NUL) that no text can hold, so it was not read and nothing was saved."
TOO_MUCH = "What was sent is larger than any form of this site, so it was not read and nothing was saved."
# Addresses that programs ask, not people.
FOR_PROGRAMS = "/api/"
NOT_WHOLE = "What was sent did not arrive whole or cannot be read, and nothing was saved."


class RefusesUnreadable:
    """Answers 400 with a sentence to a request that holds a NUL in its address, cookies or form, or is too large."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self._get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        """The page, or why there is none."""
        try:
            holds = any(NUL in text for text in _texts(request))
        except (RequestDataTooBig, TooManyFieldsSent, TooManyFilesSent):
            return refused(request, TOO_MUCH, 413)
        except (SuspiciousOperation, UnreadablePostError, ValueError):
            return refused(request, NOT_WHOLE, 400)
        if holds:
            return refused(request, UNREADABLE, 400)
        return self._get_response(request)


def refused(request: HttpRequest, sentence: str, status: int) -> HttpResponse:
    """The page that says why a request was not read; what was typed comes back with it. Other programs get JSON."""
    if request.path.startswith(FOR_PROGRAMS):
        return JsonResponse({"error": sentence}, status=status)
    text = render_to_string("400.html", {"sentence": sentence, "typed": typed_on(request)}, request)
    return HttpResponse(text, status=status)


class SignOnRequired(LoginRequiredMiddleware):
    """Sends nobody's request to the page for signing on; a form that was filled in meanwhile is not thrown away."""

    def handle_no_permission(  # type: ignore[override]
        self, request: HttpRequest, view_func: Callable[..., HttpResponseBase]
    ) -> HttpResponseBase:
        """The way to sign on, with what was typed where a form was sent."""
        if typed_on(request) is not None:
            return signed_off(request)
        return super().handle_no_permission(request, view_func)


class OutsideErrors:
    """Shows the sentence of a database that is busy or away, or of a full disk, where no form of the page can."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self._get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """The page as it is; nothing is added to it."""
        return self._get_response(request)

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        """A page that says what to do, for those three and for nothing else."""
        return outside(request, exception)


def outside(request: HttpRequest, error: BaseException | None) -> HttpResponse | None:
    """The page for an error that is none of the program's own; None for any other."""
    if error is None:
        return None
    if is_full(error):
        log.error("The disk is full: %s", error)
        return render(request, "507.html", {"sentence": FullDisk.sentence, "typed": typed_on(request)}, status=507)
    if isinstance(error, Busy) or (isinstance(error, DatabaseError) and is_busy(error)):
        return render(request, "503.html", {"sentence": Busy.sentence, "typed": typed_on(request)}, status=503)
    return _away(request) if is_away(error) else None


def _away(request: HttpRequest) -> HttpResponse:
    """The page while the database does not answer, which asks it for nothing itself."""
    log.error("The database does not answer; %s was not made.", escape_uri_path(request.path)[:200])
    try:
        text = render_to_string("away.html", {"sentence": Away.sentence, "typed": typed_on(request)}, request)
    except DatabaseError:
        text = render_to_string("away.html", {"sentence": Away.sentence, "typed": None})
    return HttpResponse(text, status=503)


def server_error(request: HttpRequest) -> HttpResponse:
    """The page for a fault of the program. It must come whatever is broken, so the plain text of it is the last resort.

    Errors outside of any view arrive here too, such as a session that a full disk cannot take.
    """
    try:
        answer = outside(request, sys.exc_info()[1])
        if answer is not None:
            return answer
        text = render_to_string("500.html", {"typed": typed_on(request)}, request)
    except Exception:
        log.exception("The page for a fault could not be made whole")
        text = render_to_string("500.html", {"typed": None})
    return HttpResponse(text, status=500)


def _texts(request: HttpRequest) -> Iterator[str]:
    """Everything of a request that could be looked up or kept."""
    yield request.path
    yield request.META.get("QUERY_STRING", "").replace("%00", NUL)
    yield from request.COOKIES.values()
    if request.method == "POST":
        for name, values in request.POST.lists():
            yield name
            yield from (str(value) for value in values)
        yield from request.FILES
