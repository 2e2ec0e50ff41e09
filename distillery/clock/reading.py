"""What time it is in the books, and which day on the site's clock.

How far the books stand from real time is read once and kept: once they have a clock it never changes. That they have
none is asked again with every request, since empty books may still be given one.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Any

from django.utils import timezone

from distillery import figures
from distillery.clock.models import BooksClock

# What a clock on a wall and one in a computer may be apart without anybody asking.
AHEAD = timedelta(minutes=5)
# What is written longer after it happened counts as late: common practice, no source.
LATE_AFTER = timedelta(minutes=30)


class _Kept(threading.local):
    days: int | None = None


_kept = _Kept()


def let_go() -> None:
    """Forgets what was read, so that the next question is answered by the database."""
    _kept.days = None


def ask_again(**signal: Any) -> None:
    """Forgets that the books have no clock, at the beginning of a request."""
    _kept.days = _kept.days or None


def offset_days() -> int:
    """Whole days (of 24 hours) from real time to the time of the books; 0 for a site's own books."""
    days = _kept.days
    if days is None:
        days = BooksClock.objects.values_list("offset_days", flat=True).first() or 0
        _kept.days = days
    return days


def books_time(moment: datetime) -> datetime:
    """What the books' clock says at a moment of real time."""
    # In UTC, because adding to a local time would go by the face of the clock over the hours it is put on or back.
    return moment.astimezone(UTC) + timedelta(days=offset_days())


def books_now() -> datetime:
    """What the books' clock says now."""
    return books_time(timezone.now())


def books_today() -> date:
    """The day it is in the books, on the site's clock."""
    return site_day(books_now())


def site_day(moment: datetime) -> date:
    """The day on the site's clock to which a moment belongs."""
    return timezone.localtime(moment).date()


def is_ahead(moment: datetime, now: datetime | None = None) -> bool:
    """True for a moment later than the books' clock by more than five minutes."""
    return moment > (now or books_now()) + AHEAD


@dataclass(frozen=True, slots=True)
class Standing:
    """A clock that stands away from real time, for a page or a print to say so: its time, and how many days away."""

    at: datetime
    days: int

    @property
    def away(self) -> str:
        """'122 days ahead of real time'."""
        days = f"{figures.count(abs(self.days))} day{'' if abs(self.days) == 1 else 's'}"
        return f"{days} {'ahead of' if self.days > 0 else 'behind'} real time"

    @property
    def shown(self) -> str:
        """The day and time it stands at: '31 March 2027, 15:10'."""
        return f"{site_day(self.at).day} {figures.month(site_day(self.at))}, {figures.clock(self.at)}"


def standing(real: datetime | None = None) -> Standing | None:
    """How the books' clock stands at a moment of real time (now if left out); None for a site's own books."""
    days = offset_days()
    return Standing(books_time(real or timezone.now()), days) if days else None
