"""Whose paper it is, and what stands at its foot: the site as the settings name it, the last seal of the books."""

from __future__ import annotations

from datetime import datetime

from django.conf import settings

from distillery.printing.furniture import Impression, Site
from distillery.seals.reading import foot_line


def site() -> Site:
    """Name, address and approval of the site."""
    return Site(settings.SITE_NAME, settings.SITE_ADDRESS, settings.SITE_APPROVAL)


def impression(printed_at: datetime, printed_by: str) -> Impression:
    """One printing of a record, with the last seal of the books as they stand."""
    return Impression(printed_at, printed_by, seal_line=foot_line())
