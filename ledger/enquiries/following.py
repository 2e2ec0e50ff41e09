"""What follows on writing: figures are compared once the entry is committed, and enquiries brought in line with them.

An entry is never delayed or undone by its comparison. What was written is noted as uncompared in its own transaction,
and acknowledged; the comparison is made while others read and write, and what it finds is written down in a turn of its
own. A process that ends in between leaves the note behind, and the next entry, the next look or the closing catches up.
"""

from __future__ import annotations

import json
import logging
from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import timedelta
from functools import wraps
from typing import Final, ParamSpec, TypeVar

from django.db import DatabaseError
from django.utils import timezone

from distillery.afterwards import afterwards
from distillery.database.retrying import Busy, retried
from distillery.jobs import asking, starting
from distillery.people.models import Person
from distillery.seals.writing import goes_on
from ledger.comparing.findings.finding import Finding
from ledger.enquiries.compared import note_failure
from ledger.enquiries.opening import BY_HAND
from ledger.enquiries.raising import Undecided, bring_up_to_date
from ledger.enquiries.standing import unanswered
from ledger.kept.keeping import current, holds, newest
from ledger.kept.models import CATCH_UP_CODE, Uncompared
from ledger.models import Movement
from ledger.periods.calendar import Calendar, NoSuchPeriod
from ledger.posting.turns import turn

WAY: Final = "comparing"
# So often somebody else may answer for the same notes; then the books are held until it is done here.
MOST_TRIES: Final = 3
# What has been noted for so long nobody is about to compare any more.
LEFT_AFTER: Final = timedelta(seconds=20)
# More periods than these are long work: a thread that serves pages is not kept from them for so long.
HANDFUL: Final = 5
_MOST_NAMED: Final = 12

log = logging.getLogger(__name__)

Given = ParamSpec("Given")
Made = TypeVar("Made")

_put_off: ContextVar[dict[str, list[str]] | None] = ContextVar("comparisons put off", default=None)


def followed(write: Callable[Given, Made]) -> Callable[Given, Made]:
    """Makes a function that writes one piece of writing and, once that is committed and acknowledged, catches up with
    comparing.

    Inside a larger piece of writing it leaves that to whoever began it.
    """

    @wraps(write)
    def and_compared(*args: Given.args, **kwargs: Given.kwargs) -> Made:
        made = write(*args, **kwargs)
        if not goes_on() and _put_off.get() is None:
            afterwards(follow)
        return made

    return and_compared


def to_be_compared(since: int, *, corrected: str = "", undecided: Undecided | None = None) -> None:
    """Notes, inside a turn, what was posted after the movement of that number as uncompared.

    `corrected` names the record that was put right, where one was; what is found no more was put right by it, and waits
    for a second person where it is `undecided` whether alcohol was lost or a reading wrong.
    """
    written = Movement.objects.filter(pk__gt=since).values_list("record_number", "happened_at", "true_at")
    calendar: Calendar | None = None
    records: dict[str, list[str]] = defaultdict(list)
    for number, happened_at, true_at in written:
        calendar = calendar or Calendar.read()
        # An entry into closed time is carried by the books into the open one, and judged where it truly happened.
        records[calendar.period_of(true_at or happened_at)].append(number)
    put_off = _put_off.get()
    if put_off is not None:
        for period, numbers in records.items():
            put_off.setdefault(period, []).extend(numbers)
    else:
        note_uncompared(records, corrected, undecided)


def note_uncompared(
    records: Mapping[str, Iterable[str]], corrected: str = "", undecided: Undecided | None = None
) -> None:
    """Notes records as uncompared, by the period whose figures they bear on. Inside a turn; the rest as above."""
    Uncompared.objects.bulk_create(
        Uncompared(
            period=period,
            after=_named(numbers),
            corrected=corrected,
            by=undecided.by if undecided is not None else None,
            undecided=json.dumps(sorted(undecided.keys)) if undecided is not None else "",
            at=timezone.now(),
        )
        for period, numbers in sorted(records.items())
    )


def _named(numbers: Iterable[str]) -> str:
    names = list(dict.fromkeys(numbers))
    return ", ".join(names) if len(names) <= _MOST_NAMED else f"{len(names)} records"


@contextmanager
def deferred() -> Iterator[None]:
    """While many records are saved nothing is noted for each; at the end each period they touched is, once."""
    if _put_off.get() is not None:
        yield
        return
    records: dict[str, list[str]] = {}
    token = _put_off.set(records)
    try:
        yield
    finally:
        _put_off.reset(token)
    _note_put_off(records)


@followed
@retried
def _note_put_off(records: dict[str, list[str]]) -> None:
    if records:
        with turn(way=WAY):
            note_uncompared(records)


def undecided_before(periods: Iterable[str], *, by: Person) -> Undecided:
    """Looked up before a correction by one person: afterwards the figures no longer tell what it took away.

    As the figures were compared last, since the books are held meanwhile; where something was written since, what was
    not found then may be a loss too.
    """
    keys: set[str] = set()
    for period in set(periods) if _put_off.get() is None else ():
        waiting = {one.key for one in unanswered(period) if one.kind != BY_HAND}
        if not waiting:
            continue
        try:
            kept = newest(period)
        except (DatabaseError, NoSuchPeriod):
            raise
        except Exception:
            log.exception("%s could not be compared before a correction.", period)
            # Any of them may have been a loss.
            keys |= waiting
        else:
            found = kept.month.findings
            if holds(kept):
                keys |= waiting & {one.key for one in found if one.may_be_loss}
            else:
                keys |= waiting - {one.key for one in found if not one.may_be_loss}
    return Undecided(by, frozenset(keys))


def follow() -> None:
    """Catches up with comparing; where more than a handful of periods wait in the process that serves the pages, leaves
    it to a process of its own.
    """
    if starting.may_start() and len(_waiting()) > HANDFUL:
        asking.ask(CATCH_UP_CODE)
        starting.start()
    else:
        catch_up()


def catch_up(progress: Callable[[str, int, int], None] | None = None) -> None:
    """Compares whatever is uncompared, period by period. Never raises because of the figures or busy books: what cannot
    be compared now stays noted. `progress` is told a sentence, which period it is, and of how many.
    """
    if goes_on():
        return
    periods = _waiting()
    calendar = Calendar.read() if periods else Calendar()
    for place, period in enumerate(periods, start=1):
        if progress is not None:
            said = f"Comparing the figures of {calendar.name_of(period)}, {place} of {len(periods)}"
            progress(said, place - 1, len(periods))
        try:
            bring_period(period)
        except (Busy, NoSuchPeriod) as busy:
            log.warning("%s is compared later: %s", period, busy)
        except DatabaseError:
            raise
        except Exception as error:
            log.exception("%s could not be compared after an entry; the entry itself is kept.", period)
            _failed(period, error)


def take_up_what_was_left(period: str) -> None:
    """Catches up where a process ended between an entry of the period and its comparison."""
    left = Uncompared.objects.filter(period=period, at__lt=timezone.now() - LEFT_AFTER)
    if not goes_on() and _put_off.get() is None and left.exists():
        afterwards(follow)


def _waiting() -> list[str]:
    return sorted(set(Uncompared.objects.values_list("period", flat=True)))


@retried
def bring_period(period: str) -> None:
    """Compares a period and brings its enquiries in line, answering for all that was noted of it as this began. Raises
    NoSuchPeriod, Busy, and what comparing raises.

    What is written while it is compared has a note of its own, which the next comparison answers for.
    """
    for _ in range(MOST_TRIES):
        noted = _noted(period)
        kept = current(period)
        with turn(way=WAY):
            if holds(kept):
                # Whoever wrote meanwhile comes by here as well, so it does not matter who of them compares.
                _settle(period, _noted(period))
                return
            # Where somebody else has answered for one of them meanwhile, theirs may be the newer comparison.
            if noted and _are_there(noted):
                _settle(period, noted, kept.month.findings)
                return
    with turn(way=WAY):
        _settle(period, _noted(period))


def _noted(period: str) -> list[Uncompared]:
    return list(Uncompared.objects.filter(period=period).select_related("by"))


def _are_there(noted: list[Uncompared]) -> bool:
    return Uncompared.objects.filter(pk__in=[one.pk for one in noted]).count() == len(noted)


def _settle(period: str, noted: list[Uncompared], found: Collection[Finding] | None = None) -> None:
    """Answers for these notes by what was found; by the findings as of now where that is not given. Inside a turn."""
    corrections = [one for one in noted if one.corrected]
    for one in corrections:
        undecided = Undecided(one.by, frozenset(json.loads(one.undecided))) if one.by is not None else None
        bring_up_to_date(period, compared=found, corrected=one.corrected, undecided=undecided)
    if not corrections:
        bring_up_to_date(period, compared=found)
    Uncompared.objects.filter(pk__in=[one.pk for one in noted]).delete()


@retried
def _failed(period: str, error: Exception) -> None:
    with turn(way=WAY):
        after = ", ".join(Uncompared.objects.filter(period=period).values_list("after", flat=True))
        note_failure(period, after, error)
