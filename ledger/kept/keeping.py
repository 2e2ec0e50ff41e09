"""The comparison of a period: read as it is kept, made anew where something it was made from has moved on.

Making takes no lock on the books: it reads them as at one moment, and what is written meanwhile makes it stale. Of one
period one comparison is made at a time in a process; whoever only looks is meanwhile shown the one before, and where a
process beside the server compares (`distillery/afterwards.py`), no reader makes one that is there already.
"""

from __future__ import annotations

import hmac
import logging
import threading
from collections import defaultdict
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING, Final

import msgspec
from django.db import DatabaseError, connection
from django.utils import timezone
from django.utils.crypto import salted_hmac

from distillery.afterwards import afterwards, done_beside
from distillery.database.one_moment import as_at_one_moment
from distillery.database.retrying import is_busy
from ledger.comparing.findings.finding import Finding
from ledger.comparing.findings.unseen import Detectability
from ledger.comparing.remembered import Remembered
from ledger.comparing.uncollected import uncollected
from ledger.kept.compared_month import ComparedMonth, compared_month, read, written
from ledger.kept.made_from import Ends, MadeFrom, PlantState, ends_now, holds_still, made_from_now, plant_now
from ledger.kept.models import KeptComparison
from ledger.models import Movement

if TYPE_CHECKING:
    from ledger.comparing.compare import Comparison

# So many movements behind the end of the chain, a comparison that still holds is noted as looked at again.
FAR_BEHIND: Final = 400
OPERATION_KEY: Final = "operation:"
_SALT: Final = "kept comparison"

log = logging.getLogger(__name__)

# So many parts of the months compared last stay at hand.
MOST_PARTS: Final = 40_000

_parts: Final = Remembered(MOST_PARTS)
_plant: PlantState | None = None
_making: defaultdict[str, threading.Lock] = defaultdict(threading.Lock)


@dataclass(frozen=True, slots=True)
class Kept:
    """A comparison with what it was made from. `behind` counts entries written since, 0 where it holds."""

    period: str
    month: ComparedMonth
    made: MadeFrom
    made_at: datetime
    behind: int = 0


def current(period: str) -> Kept:
    """The comparison as of this call; made anew, and kept, if it has to be. Entries written while it is made are not in
    it. Raises NoSuchPeriod and what comparing raises."""
    there = _still(period)
    if there is not None:
        return there
    if holds_the_books():
        return _make(period)
    with making(period):
        return _still(period) or _make(period)


def findings(period: str) -> tuple[Finding, ...]:
    """What the comparison of a period as of now found, most serious first. Raises as `current`."""
    return current(period).month.findings


def shown(period: str) -> Kept:
    """As `current`, for whoever only looks: while another makes it anew, the one before and how far it is behind."""
    there = _kept(period)
    if there is None or holds_the_books():
        return current(period)
    ends = ends_now()
    if holds_still(there.made, period, ends):
        return _looked_at(there, ends)
    if done_beside():
        afterwards(refresh, period)
        return _behind(there)
    making = _making[period]
    if not making.acquire(blocking=False):
        return _behind(there)
    try:
        return _still(period) or _make(period)
    finally:
        making.release()


def refresh(period: str) -> None:
    """Makes the comparison of a period anew if it has to be, for those who look next."""
    current(period)


def _behind(kept: Kept) -> Kept:
    written = Movement.objects.filter(pk__gt=kept.made.movement).count()
    return replace(kept, behind=max(written, 1))


def holds(kept: Kept) -> bool:
    """Whether a comparison would come out the same now."""
    return holds_still(kept.made, kept.period)


def unseen_of(kept: Kept, record: str) -> Detectability | None:
    """What could not have been seen in the operation of a record; asked once, then kept with the comparison.

    None where it is not known yet, because the comparison is being made anew beside the server.
    """
    if record in kept.month.unseen:
        return kept.month.unseen[record]
    if kept.behind and done_beside():
        afterwards(look_for_unseen, kept.period, record)
        return None
    unseen = detectability_of(compare_month(kept.period, known=_parts_with_plant()), record)
    if not kept.behind:
        _keep(replace(kept, month=kept.month.with_unseen(record, unseen)))
    return unseen


def look_for_unseen(period: str, record: str) -> None:
    """Keeps what could not have been seen in the operation of a record, for those who look next."""
    unseen_of(current(period), record)


def newest(period: str) -> Kept:
    """The comparison that was kept last, whether or not it holds; as `current` where none is."""
    return _kept(period) or current(period)


def let_go(period: str | None = None) -> None:
    """Throws away what is kept of a period, or of all, and whatever parts this process remembers."""
    _parts.forget()
    rows = KeptComparison.objects.all()
    (rows if period is None else rows.filter(period=period)).delete()


def holds_the_books() -> bool:
    """Whether whoever asks is writing; they wait for nobody that only reads."""
    return connection.in_atomic_block


@contextmanager
def making(period: str) -> Iterator[None]:
    """One at a time in a process makes the comparison of a period."""
    with _making[period]:
        yield


def _still(period: str) -> Kept | None:
    there = _kept(period)
    if there is None:
        return None
    ends = ends_now()
    return _looked_at(there, ends) if holds_still(there.made, period, ends) else None


def _make(period: str) -> Kept:
    with as_at_one_moment():
        made = made_from_now(period)
        kept = Kept(period, _compared(period), made, timezone.now())
    _keep(kept)
    return kept


def compare_month(period: str, known: Remembered) -> Comparison:
    """As `comparing.month`, loaded where it is used: it brings the statistics, which hardly any command needs."""
    from ledger.comparing import month

    return month.compare_month(period, known=known)


def detectability_of(comparison: Comparison, record: str) -> Detectability | None:
    """As `comparing.findings.detectability`, loaded where it is used."""
    from ledger.comparing.findings import detectability

    return detectability.detectability_of(comparison, record)


@uncollected()
def _compared(period: str) -> ComparedMonth:
    """Everything the comparison was made by is let go again in here."""
    comparison = compare_month(period, known=_parts_with_plant())
    return _with_unseen(compared_month(comparison), comparison, _kept(period))


def _parts_with_plant() -> Remembered:
    """The parts this process remembers, for the plant as it is now."""
    global _plant
    _plant = plant = plant_now(_plant)
    return _parts.with_plant(plant)


def _with_unseen(month: ComparedMonth, comparison: Comparison, before: Kept | None) -> ComparedMonth:
    """Answers beforehand what could not have been seen where somebody is about to look: at what was found, and where it
    was asked for before. The model is at hand here, and a page would have to compare again for it."""
    asked = dict.fromkeys(before.month.unseen if before is not None else ())
    for one in month.findings:
        asked |= dict.fromkeys((one.record, one.key.removeprefix(OPERATION_KEY)))
    for record in asked:
        try:
            month = month.with_unseen(record, detectability_of(comparison, record))
        except Exception:
            # It is no part of what was found; whoever looks there asks again.
            log.exception("What could not have been seen at %s was not worked out.", record)
    return month


def _kept(period: str) -> Kept | None:
    row = KeptComparison.objects.filter(period=period).first()
    if row is None:
        return None
    content = bytes(row.content)
    made = MadeFrom(row.movement, row.seal, row.entry, row.entry_at, row.starts, row.ends, row.method)
    if not hmac.compare_digest(row.mark, _mark(period, made, content)):
        return None
    try:
        month = read(content)
    except msgspec.DecodeError:
        # Written by an earlier release.
        return None
    return Kept(period, month, made, row.made_at)


def _looked_at(kept: Kept, ends: Ends) -> Kept:
    """Notes that a comparison still holds, so that the next look has less to go through."""
    if ends.movement - kept.made.movement <= FAR_BEHIND:
        return kept
    made = made_from_now(kept.period)
    if not holds_still(kept.made, kept.period):
        return kept
    again = replace(kept, made=made)
    _keep(again)
    return again


def _keep(kept: Kept) -> None:
    """Writes it down where the database is free; where it is busy the next one does."""
    content = written(kept.month)
    row = KeptComparison(
        period=kept.period,
        made_at=kept.made_at,
        movement=kept.made.movement,
        seal=kept.made.seal,
        entry=kept.made.entry,
        entry_at=kept.made.entry_at,
        starts=kept.made.starts,
        ends=kept.made.ends,
        method=kept.made.method,
        content=content,
        mark=_mark(kept.period, kept.made, content),
    )
    columns = [field.name for field in KeptComparison._meta.concrete_fields if not field.primary_key]
    try:
        with _without_waiting():
            KeptComparison.objects.bulk_create(
                [row], update_conflicts=True, unique_fields=["period"], update_fields=columns
            )
    except DatabaseError as error:
        if connection.in_atomic_block or not is_busy(error):
            raise


@contextmanager
def _without_waiting() -> Iterator[None]:
    """SQLite's writers wait in line; whoever only looks does not join it."""
    if connection.vendor != "sqlite" or connection.in_atomic_block:
        yield
        return
    with connection.cursor() as cursor:
        [[patience_ms]] = cursor.execute("PRAGMA busy_timeout").fetchall()
        cursor.execute("PRAGMA busy_timeout = 0")
    try:
        yield
    finally:
        with connection.cursor() as cursor:
            cursor.execute(f"PRAGMA busy_timeout = {int(patience_ms)}")


def _mark(period: str, made: MadeFrom, content: bytes) -> str:
    """What only the program can write: a hand in the database could else put an older comparison in its place."""
    head = msgspec.msgpack.encode((period, made))
    return salted_hmac(_SALT, head + content, algorithm="sha256").hexdigest()
