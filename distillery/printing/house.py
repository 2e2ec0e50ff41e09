"""Whose paper it is, and what stands at its foot: the site as the settings name it, its books' clock and seal."""

from __future__ import annotations

from datetime import datetime

from django.conf import settings

from distillery.clock.reading import standing
from distillery.printing.furniture import Impression, Site
from distillery.seals.lookup import foot_line


def site() -> Site:
    """Name, address and approval of the site."""
    return Site(settings.SITE_NAME, settings.SITE_ADDRESS, settings.SITE_APPROVAL)


def impression(printed_at: datetime, printed_by: str) -> Impression:
    """One printing at a moment of real time; books whose clock stands elsewhere say so on every page of it."""
    clock = standing(printed_at)
    books_at = clock.at if clock is not None else None
    return Impression(printed_at, printed_by, seal_line=foot_line(), books_at=books_at)
