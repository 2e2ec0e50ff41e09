"""Setting the books' clock: once, in books that hold nothing yet."""

from __future__ import annotations

import math
from datetime import datetime, timedelta

from django.db import DatabaseError
from django.utils import timezone

from distillery.clock.models import MOST_DAYS, BooksClock
from distillery.clock.reading import let_go
from distillery.seals.writing import written_by


class ClockNotSet(Exception):
    """The clock of the books cannot be set, or not to that day: one sentence."""


def days_until(moment: datetime, *, real: datetime | None = None) -> int:
    """The fewest whole days that bring real time to a moment or past it; below nothing for a moment long past."""
    return math.ceil((moment - (real or timezone.now())) / timedelta(days=1))


def set_clock(offset_days: int, *, why: str) -> BooksClock | None:
    """Sets the clock that many whole days from real time (at most 73,000 either way); None for 0, which is real time.

    Raises ClockNotSet where a clock is set already or anything has been recorded: triggers see to it on both engines.
    """
    if not offset_days:
        return None
    if abs(offset_days) > MOST_DAYS:
        raise ClockNotSet(f"The clock of the books can stand at most {MOST_DAYS} days from real time.")
    try:
        with written_by(None, "clock"):
            clock = BooksClock(offset_days=offset_days, set_at=timezone.now(), why=why)
            clock.save(force_insert=True)
    except DatabaseError as refused:
        raise ClockNotSet("The clock of the books is set once, before anything is recorded in them.") from refused
    finally:
        let_go()
    return clock
