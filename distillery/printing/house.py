"""Whose paper it is, and what is said of a printing of it: the site as the settings name it, its books' own clock."""

from __future__ import annotations

from datetime import datetime

from django.conf import settings

from distillery.clock.reading import standing
from distillery.printing.furniture import Impression, Site


def site() -> Site:
    """Name, address and approval of the site."""
    return Site(settings.SITE_NAME, settings.SITE_ADDRESS, settings.SITE_APPROVAL)


def impression(printed_at: datetime, printed_by: str) -> Impression:
    """One printing at a moment of real time; books whose clock stands elsewhere say so on every page of it."""
    clock = standing(printed_at)
    return Impression(printed_at, printed_by, books_at=clock.at if clock is not None else None)
