"""Which PC a request comes from. A draft belongs to the PC it was typed at, whoever sits there.

An enrolled PC is known by its enrolment, also once that has ended; what it had kept before goes with it. Any other is
known by a long random number in a signed cookie that no script can read. It is made with the first page that
somebody signed on at the PC is shown, not with the first draft: browsers write cookies down up to half a minute later,
and a power cut in that time must not part a draft from its PC.
"""

from __future__ import annotations

import secrets
from collections.abc import Callable
from typing import Final

from django.conf import settings
from django.http import HttpRequest, HttpResponseBase

from distillery.pen.pcs import number_of

COOKIE: Final = "pc"
SALT: Final = "gaugebook.pc"
# Browsers keep no cookie longer than 400 days (RFC 6265bis, section 5.5); each draft begins them anew.
KEPT_S: Final = 400 * 24 * 60 * 60


def this_pc(request: HttpRequest) -> str | None:
    """The number of the PC; None for one that nobody has signed on at, or whose cookie is not the site's own."""
    return number_of(request) or unenrolled_pc(request)


def unenrolled_pc(request: HttpRequest) -> str | None:
    """The number of the PC by its cookie alone; None without one of the site's own."""
    return request.get_signed_cookie(COOKIE, default=None, salt=SALT) or None


def new_pc() -> str:
    """A number that nobody can guess."""
    return secrets.token_urlsafe(32)


def remember_pc(response: HttpResponseBase, pc: str) -> None:
    """Has the browser keep the number of a PC that is not enrolled; an enrolled one keeps its enrolment."""
    response.set_signed_cookie(
        COOKIE,
        pc,
        salt=SALT,
        max_age=KEPT_S,
        httponly=True,
        samesite="Lax",
        secure=settings.SESSION_COOKIE_SECURE,
    )


class KnowsPC:
    """Gives a PC its number with the first page it is shown after somebody has signed on."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self._get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        """The page, with the number where there is none yet."""
        response = self._get_response(request)
        page = response.headers.get("Content-Type", "").startswith("text/html")
        if page and COOKIE not in response.cookies and this_pc(request) is None and request.user.is_authenticated:
            remember_pc(response, new_pc())
        return response
