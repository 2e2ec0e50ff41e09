"""Writing that answers for itself: what was written is claimed in a person's name and sealed, in one transaction.

Whatever the program writes runs inside `written_by`. What is in the trail and nobody claims was written past the
program; the proof names it. Claims need exact ranges of entries, so who writes holds the trail until the end:
on SQLite the transaction is alone, on PostgreSQL a lock of the transaction's own sees to it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from functools import wraps
from json.encoder import encode_basestring_ascii as quoted
from typing import Final, NamedTuple, ParamSpec, TypeVar

from django.db import DEFAULT_DB_ALIAS, connection, transaction
from django.utils import timezone

from distillery.database.fixed_sql import LAST, add, as_read, ask
from distillery.database.in_line import in_line
from distillery.hashing import FIRST_SEAL, moment_text, seal
from distillery.people.models import Person
from distillery.seals.entries import chained, entries
from distillery.seals.models import BooksSeal
from distillery.trail.claims import claim, last_entry

# Any number will do, as long as nothing else in the database locks it.
TRAIL_LOCK: Final = 7_284_501

_COLUMNS: Final = ["number", "made_at", "movement", "movement_seal", "entry", "entry_digest", "previous_seal", "seal"]
# The number of the newest entry of the trail, and the last seal beside it.
_NEWEST: Final = f"""
SELECT entry.newest, last.* FROM (SELECT COALESCE(MAX(id), 0) AS newest FROM trail_entry) entry
LEFT JOIN (SELECT {", ".join(_COLUMNS)} FROM seals_booksseal ORDER BY number DESC LIMIT 1) last ON 1 = 1
"""

Given = ParamSpec("Given")
Made = TypeVar("Made")

# Gives number and seal of the last movement; the ledger, a floor above, puts its own in when the site starts.
movements_end: list[Callable[[], tuple[int, str]]] = []


@dataclass(slots=True)
class Writing:
    """A piece of writing that is going on: in whose name, and by what way into the program."""

    person: Person | None
    way: str


_open: ContextVar[Writing | None] = ContextVar("writing", default=None)


@contextmanager
def written_by(person: Person | None, way: str = "") -> Iterator[None]:
    """One transaction whose entries in the trail are claimed and sealed at its end.

    Inside another it belongs to that one, which takes the name of the first person named. `way` says by what the
    program was told to write ('set_figure', 'load_month'), for writing that no person signed on for.
    """
    with in_line(), transaction.atomic(), claimed_and_sealed(person, way):
        yield


@contextmanager
def claimed_and_sealed(person: Person | None, way: str = "") -> Iterator[None]:
    """As `written_by`, inside a transaction that the caller has begun for nothing else."""
    going_on = _open.get()
    if going_on is not None:
        going_on.person = going_on.person or person
        going_on.way = going_on.way or way
        yield
        return
    _hold_the_trail()
    before = last_entry()
    writing = Writing(person, way)
    token = _open.set(writing)
    try:
        yield
    finally:
        _open.reset(token)
    newest, last = _newest_entry_and_seal()
    if claim(before, writing.person, writing.way, last=newest) is not None:
        # The claim has made an entry of its own.
        newest = LAST
    _seal(newest, last)


def goes_on() -> bool:
    """True inside a piece of writing."""
    return _open.get() is not None


def signed(way: str) -> Callable[[Callable[Given, Made]], Callable[Given, Made]]:
    """Makes a function that writes one piece of writing, in the name of its keyword `person` where it takes one."""

    def around(write: Callable[Given, Made]) -> Callable[Given, Made]:
        @wraps(write)
        def one_piece(*args: Given.args, **kwargs: Given.kwargs) -> Made:
            person = kwargs.get("person")
            with written_by(person if isinstance(person, Person) else None, way):
                return write(*args, **kwargs)

        return one_piece

    return around


def seal_books() -> BooksSeal | None:
    """Seals the books as they stand, if anything was written since the last seal; gives the last seal.

    Called at the end of a piece of writing, inside its transaction.
    """
    return _seal(*_newest_entry_and_seal())


def _seal(newest: int, last: BooksSeal | None) -> BooksSeal | None:
    """As `seal_books`; `newest` is no lower than the number of the newest entry, `last` the last seal."""
    entry, digest = (last.entry, last.entry_digest) if last is not None else (0, FIRST_SEAL)
    before = entry
    for row in entries(after=entry) if newest > entry else ():
        entry, digest = row[0], chained(digest, row)
    movement, movement_seal = movements_end[0]() if movements_end else (0, FIRST_SEAL)
    if last is not None and entry == before and movement == last.movement:
        return last
    if last is None and not entry and not movement:
        return None
    made = BooksSeal(
        number=last.number + 1 if last is not None else 1,
        made_at=timezone.now(),
        movement=movement,
        movement_seal=movement_seal,
        entry=entry,
        entry_digest=digest,
        previous_seal=last.seal if last is not None else FIRST_SEAL,
    )
    made.seal = seal(made.previous_seal, content(made))
    add([made])
    return made


def _newest_entry_and_seal() -> tuple[int, BooksSeal | None]:
    newest, number, made_at, *more = ask(_NEWEST)[0]
    if number is None:
        return newest, None
    return newest, BooksSeal.from_db(DEFAULT_DB_ALIAS, _COLUMNS, [number, as_read(made_at), *more])


class SealAsKept(NamedTuple):
    """A seal of the books as a row, for whoever reads all of them; `made_at` as `MomentText` gives it."""

    number: int
    made_at: str
    movement: int
    movement_seal: str
    entry: int
    entry_digest: str
    previous_seal: str
    seal: str


def content(one: BooksSeal | SealAsKept) -> str:
    """What a seal of the books covers beside the seal before it, as the one line that is hashed."""
    return (
        f'{{"made_at":"{moment_text(one.made_at)}","movements":[{one.movement:d},{quoted(one.movement_seal)}],'
        f'"number":{one.number:d},"trail":[{one.entry:d},{quoted(one.entry_digest)}]}}'
    )


def _hold_the_trail() -> None:
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(%s)", [TRAIL_LOCK])
