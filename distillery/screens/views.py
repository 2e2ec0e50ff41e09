"""A press of 'Day', 'Night' or a density: kept in a cookie of this PC, and back to the page it was pressed on."""

from __future__ import annotations

from typing import Final

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, HttpResponseBadRequest, HttpResponseRedirect
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_POST

from distillery.screens.chosen import KEPT_SECONDS, OFFERED, THEME_COOKIE, THEMES, density_cookie

NOT_OFFERED: Final = "There is no such theme or size. Go back, and press one of the buttons."
FIRST_PAGE: Final = "/"


@login_not_required
@require_POST
def choose(request: HttpRequest) -> HttpResponse:
    """Keeps a theme, or the density of an area, for this PC. Nothing is written in the books."""
    theme, area, density = (request.POST.get(name, "") for name in ("theme", "area", "density"))
    if theme in THEMES:
        return _kept(request, THEME_COOKIE, theme)
    if density in OFFERED.get(area, ()):
        return _kept(request, density_cookie(area), density)
    return HttpResponseBadRequest(NOT_OFFERED)


def _kept(request: HttpRequest, cookie: str, value: str) -> HttpResponse:
    page = request.POST.get("page", "")
    here = page.startswith("/") and url_has_allowed_host_and_scheme(page, allowed_hosts=None)
    answer = HttpResponseRedirect(page if here else FIRST_PAGE)
    answer.set_cookie(
        cookie,
        value,
        max_age=KEPT_SECONDS,
        httponly=True,
        samesite="Lax",
        secure=settings.SESSION_COOKIE_SECURE,
    )
    return answer
