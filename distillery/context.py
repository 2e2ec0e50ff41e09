"""What every page is told about the site it belongs to."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.http import HttpRequest
from django.utils import timezone

from distillery.clock.reading import standing
from distillery.pen.shown import ShownPen


def site(request: HttpRequest) -> dict[str, Any]:
    """Site name and address for the name bar, the moment at which the page was made, how the clock of the books stands
    where that is not real time, and who has the pen for how long.
    """
    now = timezone.now()
    return {
        "site_name": settings.SITE_NAME,
        "site_address": settings.SITE_ADDRESS,
        "site_approval": settings.SITE_APPROVAL,
        "page_made_at": now,
        "books_clock": standing(now),
        "pen": ShownPen(request),
    }
