"""Whose paper it is, and what stands at its foot: the site as it is named today, its books' clock and seal."""

from __future__ import annotations

from datetime import datetime

from distillery.clock.reading import books_today, standing
from distillery.printing.furniture import Impression, Site
from distillery.rules.stating import details
from distillery.seals.lookup import foot_line


def site() -> Site:
    """Name, address and approval of the site as they are in force today."""
    now = details(books_today())
    return Site(now.name, now.address, now.approval_number)


def impression(printed_at: datetime, printed_by: str) -> Impression:
    """One printing at a moment of real time; books whose clock stands elsewhere say so on every page of it."""
    clock = standing(printed_at)
    books_at = clock.at if clock is not None else None
    return Impression(printed_at, printed_by, seal_line=foot_line(), books_at=books_at)
