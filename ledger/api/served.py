"""What stands before every address under /api/: method, token, waiting; and every refusal is JSON with a sentence.

No session is asked for and no cookie given, and no answer may be kept by anything on its way.
"""

from __future__ import annotations

import json
import logging
from typing import Any, Final

from django.contrib.auth.decorators import login_not_required
from django.db import DatabaseError
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase, JsonResponse
from django.urls import Resolver404
from django.views.decorators.csrf import csrf_exempt

from distillery.database.one_moment import as_at_one_moment
from distillery.database.retrying import Busy, is_busy
from distillery.pen.keeper import open_when_locked
from distillery.tokens import keeping
from ledger.api import waiting

DOCUMENT: Final = "openapi.json"
NO_TOKEN: Final = (
    "Send the token of this program as 'Authorization: Bearer TOKEN'. An administrator of the site makes one."
)
WRONG_TOKEN: Final = "This token is not known here, or it was ended. An administrator of the site makes another."
ONLY_READ: Final = "These addresses are read only: ask with GET."
NO_ADDRESS: Final = "There is no such address. openapi.json says which there are."
FAULT: Final = "The program could not answer, by a fault of its own. The log of the site says where."
BEARER: Final = "bearer "

log = logging.getLogger(__name__)


@csrf_exempt
@login_not_required
@open_when_locked
def api(request: HttpRequest, rest: str = "") -> HttpResponseBase:
    """The answer of an address, or why there is none."""
    answer = _answered(request, rest)
    answer.headers["Cache-Control"] = "no-store"
    return answer


def refusal(sentence: str, status: int, **headers: str) -> JsonResponse:
    """Why there is no answer."""
    return JsonResponse({"error": sentence}, status=status, headers=headers)


def _answered(request: HttpRequest, rest: str) -> HttpResponse:
    if request.method not in ("GET", "HEAD"):
        return refusal(ONLY_READ, 405, Allow="GET, HEAD")
    if rest == DOCUMENT:
        from ledger.api.described import document

        return JsonResponse(document())
    address = request.META.get("REMOTE_ADDR", "")
    if wait := waiting.wrong.wait_s(address):
        return _too_often(wait, "Too many wrong tokens came from this computer")
    header = request.headers.get("Authorization", "")
    if not header.lower().startswith(BEARER):
        return refusal(NO_TOKEN, 401, **{"WWW-Authenticate": "Bearer"})
    try:
        token = keeping.known_by(header[len(BEARER) :].strip())
        if token is None:
            waiting.wrong.add(address)
            log.warning("A token that is not known was sent from %s", address)
            return refusal(WRONG_TOKEN, 401, **{"WWW-Authenticate": 'Bearer error="invalid_token"'})
        if wait := waiting.asked.wait_s(token.pk):
            return _too_often(wait, f"At most {waiting.MOST_ASKED} questions a minute are answered")
        waiting.asked.add(token.pk)
        keeping.note_use(token)
        return _found(request, rest, token)
    except (Busy, DatabaseError) as error:
        if isinstance(error, DatabaseError) and not is_busy(error):
            log.exception("An address of the API failed")
            return refusal(FAULT, 500)
        return refusal("The books are busy; ask again in a moment.", 503, **{"Retry-After": "5"})
    except Exception:
        log.exception("An address of the API failed")
        return refusal(FAULT, 500)


def _found(request: HttpRequest, rest: str, token: Any) -> HttpResponse:
    from ledger.api.described import addresses

    request.consumer = token  # type: ignore[attr-defined]
    try:
        found = addresses().resolve(rest)
        with as_at_one_moment():
            answer: HttpResponse = found.func(request, *found.args, **found.kwargs)
    except (Resolver404, Http404):
        return refusal(NO_ADDRESS, 404)
    if answer.status_code >= 400 and "error" not in _content(answer):
        return refusal(NO_ADDRESS if answer.status_code == 404 else FAULT, answer.status_code)
    return answer


def _content(answer: HttpResponse) -> Any:
    try:
        return json.loads(answer.content)
    except ValueError:
        return ()


def _too_often(wait_s: int, why: str) -> JsonResponse:
    return refusal(f"{why}. Ask again in {wait_s} s.", 429, **{"Retry-After": str(wait_s)})
