"""What waited in a browser until the server was back is answered for a script: saved, and where it can be seen.

A page answers a form that was saved by sending the browser on, which a script cannot tell from being sent to sign on.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import resolve_url

HEADER: Final = "X-Unsent"
SIGN_ON: Final = "login"


class AnswersUnsent:
    """Turns the way to the next page into words for a script that asked so; nothing else is changed."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self._get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """The page, or for a script where it would have led."""
        response = self._get_response(request)
        if HEADER not in request.headers or response.status_code != 302:
            return response
        href = response.headers["Location"]
        if href.startswith(resolve_url(SIGN_ON)):
            return JsonResponse({"sentence": "Nobody is signed on."}, status=401)
        answer = JsonResponse({"saved": True, "href": href})
        answer.cookies = response.cookies
        return answer
