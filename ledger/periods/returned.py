"""Which days are returned upon: those of closed periods, since a return is made of what a month came to."""

from __future__ import annotations

from datetime import date

from distillery.clock.reading import site_day
from ledger.periods.calendar import open_from


def first_open_day(day: date) -> date | None:
    """The first day that is not closed, where the day lies before it; None where the day is open."""
    opens = open_from()
    if opens is None or day >= site_day(opens):
        return None
    return site_day(opens)
