"""What every page is told about the site it belongs to."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest
from django.utils import timezone

from distillery.clock.reading import site_day, standing
from distillery.copies.said import copies_said
from distillery.pen.shown import ShownPen
from distillery.rules.stating import details


def site(request: HttpRequest) -> dict[str, Any]:
    """Site name and address for the name bar, the moment at which the page was made, how the clock of the books stands
    where that is not real time, how old the newest copy is, and who has the pen for how long.
    """
    now = timezone.now()
    clock = standing(now)
    site = details(site_day(clock.at if clock is not None else now))
    return {
        "of_site": site,
        "site_name": site.name,
        "site_address": site.address,
        "site_approval": site.approval_number,
        "page_made_at": now,
        "books_clock": clock,
        "copies": copies_said(),
        "pen": ShownPen(request),
    }
