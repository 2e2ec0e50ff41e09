"""How the clock of empty books is set by the log that is loaded into them.

A month that lies ahead of real time is one for practice. The books then stand at its end, a whole number of days ahead:
time passes in them, and what somebody tries falls beside the month. A site's own month lies behind, and its books keep
real time. A single slip of the pen may lie ahead, so the middle of the log decides.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import Final

from django.utils import timezone

from batches.loading.entries import Event
from batches.models import Record
from distillery import figures
from distillery.clock.reading import books_now, is_ahead, offset_days, standing
from distillery.clock.setting import days_until, set_clock
from ledger.models import Movement
from ledger.periods.calendar import Calendar
from ledger.posting.accounts import OPENING_STOCK

# What lies further than this from the middle of a log is a slip or was there long before.
PART_OF_THE_LOG: Final = timedelta(days=62)
AHEAD_SAID: Final = 5


def books_are_empty() -> bool:
    """True where nothing is written and the books' clock is real time."""
    return not (offset_days() or Record.objects.exists() or Movement.objects.exists())


def said_ahead(events: Iterable[Event]) -> str:
    """What of a log lies ahead of the books' clock, in a sentence; blank where nothing does."""
    now = books_now()
    ahead = sorted({one.entry.number or one.entry.sheet.title for one in events if is_ahead(one.happened_at, now)})
    if not ahead:
        return ""
    records = "1 record lies" if len(ahead) == 1 else f"{len(ahead)} records lie"
    return (
        f"{records} ahead of the clock of the books ({figures.moment(now, year=True)}): "
        f"{', '.join(ahead[:AHEAD_SAID])}{' and more' if len(ahead) > AHEAD_SAID else ''}. Their pages say so, "
        "and findings has those that moved alcohol."
    )


def set_by_log(events: Iterable[Event], *, always: bool = False) -> str:
    """Sets the clock of books that hold nothing to the end of the log's month, and says so in a sentence.

    Only where the log lies ahead of real time, unless `always`; else nothing is set and the sentence is blank.
    """
    times = sorted(one.happened_at for one in events if one.entry.sheet.operation != OPENING_STOCK)
    now = timezone.now()
    if not times or (times[len(times) // 2] <= now and not always):
        return ""
    set_clock(days_until(_end_of(times), real=now), why="the log that was loaded")
    clock = standing(now)
    return f"The clock of these books stands at {clock.shown}, {clock.away}." if clock is not None else ""


def _end_of(times: list[datetime]) -> datetime:
    """The last day of the month that the log is of, or the log's last moment where that is later."""
    middle = times[len(times) // 2]
    last = max(one for one in times if one - middle <= PART_OF_THE_LOG)
    calendar = Calendar.read()
    return max(last, calendar.start_of(calendar.days(calendar.period_of(middle))[1]))
