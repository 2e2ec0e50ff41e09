"""Whose paper it is: the site as the settings name it."""

from __future__ import annotations

from django.conf import settings

from distillery.printing.furniture import Site


def site() -> Site:
    """Name, address and approval of the site."""
    return Site(settings.SITE_NAME, settings.SITE_ADDRESS, settings.SITE_APPROVAL)
