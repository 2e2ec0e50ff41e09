"""What every page is told about the site it belongs to."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.http import HttpRequest
from django.utils import timezone


def site(request: HttpRequest) -> dict[str, Any]:
    """Site name and address for the name bar, and the moment at which the page was made."""
    return {
        "site_name": settings.SITE_NAME,
        "site_address": settings.SITE_ADDRESS,
        "site_approval": settings.SITE_APPROVAL,
        "page_made_at": timezone.now(),
    }
