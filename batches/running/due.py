"""Which readings of a run are due, overdue or missing, by the books' clock.

After a reading the next is due as long after it as the sheet says (`Running.every`), and so on. One that was due and
never came is missing as soon as the one after it is due. Nothing is due of a run that is stopped. When a due reading
counts as overdue is common practice, no source: a third of the time between two. Where none of the last runs of the
same vessel was read at all, nothing is due either: the site does not read it along the way.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from batches.running.before import Usual
from batches.running.runs import Run
from batches.running.runs_on import runs_on

OVERDUE_AFTER = 1 / 3


class Waits(StrEnum):
    """How a next reading stands to the clock."""

    COMING = "coming"
    DUE = "due"
    OVERDUE = "overdue"
    STOPPED = "stopped"
    NEVER = "never"


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
NOTHING_USUAL = Usual()


def readings_due(now: datetime) -> list[ReadingDue]:
    """The next reading of every record that is on, what has been due longest first."""
    on = runs_on()
    return sorted(
        due_of(on.runs, on.usual, now).values(), key=lambda due: (due.waits in (Waits.STOPPED, Waits.NEVER), due.at)
    )


def due_of(runs: Sequence[Run], usual: Mapping[int, Usual], now: datetime) -> dict[int, ReadingDue]:
    """The next reading of these runs, by the key of the record."""
    return {run.record.pk: reading_due(run, now, usual[run.record.pk]) for run in runs}


def reading_due(run: Run, now: datetime, usual: Usual = NOTHING_USUAL) -> ReadingDue:
    """The next reading of a run. The first is due when it usually came, and no sooner than the time between two."""
    first_after = usual.first_reading
    every, again = run.every, run.started_again
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
    if not run.points and usual.enough and first_after is None:
        return ReadingDue(run, first, Waits.NEVER)
    return _by_the_clock(run, first, every, now)


def _by_the_clock(run: Run, first: datetime, every: timedelta, now: datetime) -> ReadingDue:
    passed = (now - first) // every if now >= first else -1
    if passed < 0:
        return ReadingDue(run, first, Waits.COMING)
    at = first + passed * every
    missing = tuple(first + place * every for place in range(max(0, passed - MISSING_SHOWN), passed))
    waits = Waits.OVERDUE if now - at > every * OVERDUE_AFTER else Waits.DUE
    return ReadingDue(run, at, waits, missing, max(0, passed - MISSING_SHOWN))
