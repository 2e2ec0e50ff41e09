"""Which readings of a run are due, overdue or missing, by the books' clock.

After a reading the next is due as long after it as the sheet says (`Running.every`), and so on. One that was due and
never came is missing as soon as the one after it is due. Nothing is due of a run that is stopped. When a due reading
counts as overdue is common practice, no source: a third of the time between two.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from batches.running.runs import Run

OVERDUE_AFTER = 1 / 3


class Waits(StrEnum):
    """How a next reading stands to the clock."""

    COMING = "coming"
    DUE = "due"
    OVERDUE = "overdue"
    STOPPED = "stopped"


@dataclass(frozen=True, slots=True)
class ReadingDue:
    """When the next reading of a run is due, how that stands to the clock, and which before it never came."""

    run: Run
    at: datetime
    waits: Waits
    missing: tuple[datetime, ...] = ()
    missing_before: int = 0

    @property
    def is_due(self) -> bool:
        """True where it should be read now."""
        return self.waits in (Waits.DUE, Waits.OVERDUE)


MISSING_SHOWN = 3


def reading_due(run: Run, now: datetime, *, first_after: timedelta | None = None) -> ReadingDue:
    """The next reading of a run. `first_after` is how long after its beginning the first reading usually came."""
    every, again = run.running.every, run.started_again
    last = max((point.at for point in run.points if point.at <= now), default=None)
    if last is not None and (again is None or again <= last):
        first = last + every
    elif again is not None:
        # While it stood still nothing was to be read.
        first = again + every
    else:
        first = run.begun + max(every, first_after or every)
    if run.stopped is not None:
        return ReadingDue(run, first, Waits.STOPPED)
    return _by_the_clock(run, first, every, now)


def _by_the_clock(run: Run, first: datetime, every: timedelta, now: datetime) -> ReadingDue:
    passed = (now - first) // every if now >= first else -1
    if passed < 0:
        return ReadingDue(run, first, Waits.COMING)
    at = first + passed * every
    missing = tuple(first + place * every for place in range(max(0, passed - MISSING_SHOWN), passed))
    waits = Waits.OVERDUE if now - at > every * OVERDUE_AFTER else Waits.DUE
    return ReadingDue(run, at, waits, missing, max(0, passed - MISSING_SHOWN))
