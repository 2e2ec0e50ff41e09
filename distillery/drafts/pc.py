"""Which PC a request comes from. A draft belongs to the PC it was typed at, whoever sits there.

A PC is known by a long random number in a signed cookie that no script can read, made with its first draft.
"""

from __future__ import annotations

import secrets
from typing import Final

from django.conf import settings
from django.http import HttpRequest, HttpResponseBase

COOKIE: Final = "pc"
SALT: Final = "gaugebook.pc"
# Browsers keep no cookie longer than 400 days (RFC 6265bis, section 5.5); each draft begins them anew.
KEPT_S: Final = 400 * 24 * 60 * 60


def this_pc(request: HttpRequest) -> str | None:
    """The number of the PC; None for one that has no draft yet, or whose cookie is not the site's own."""
    known = request.get_signed_cookie(COOKIE, default=None, salt=SALT)
    return known or None


def new_pc() -> str:
    """A number that nobody can guess."""
    return secrets.token_urlsafe(32)


def remember_pc(response: HttpResponseBase, pc: str) -> None:
    """Has the browser keep the number."""
    response.set_signed_cookie(
        COOKIE,
        pc,
        salt=SALT,
        max_age=KEPT_S,
        httponly=True,
        samesite="Lax",
        secure=settings.SESSION_COOKIE_SECURE,
    )
