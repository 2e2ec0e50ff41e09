"""Ways to return figures from other rooms."""

from __future__ import annotations

from django.urls import reverse

from batches.returns.months import is_month
from distillery.pages import Link


def way_to_figures(period: str) -> Link | None:
    """The way from a month's account to the figures of its return; None from a stock period that is no month."""
    return Link("Return figures", reverse("return_page", args=[period])) if is_month(period) else None
