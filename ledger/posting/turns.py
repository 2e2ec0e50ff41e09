"""Whose turn it is to write: locks are taken in one order, the end of the chain first and everything else after it.

What is written is worked out from the books as they stand: the book before a gauge, the strength on another record,
the next number of a series. So a writer takes the end of the chain before it reads any of these, and holds it until
commit. Writers wait in line for that one row. None reads what another is changing, and no two can deadlock. On SQLite
the transaction itself is the turn, since it begins with the only write lock there is, and the line is the program's own
(`database/in_line.py`).
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

from django.db import transaction

from distillery.database.fixed_sql import ask, ask_one, until_commit
from distillery.database.in_line import in_line
from distillery.people.models import Person
from distillery.seals.writing import claimed_and_sealed
from ledger.models import Head

_END: Final = "SELECT last_number, last_seal FROM ledger_head WHERE id = 1"
_SO_FAR: Final = "SELECT last_number, (SELECT COALESCE(MAX(id), 0) FROM trail_entry) FROM ledger_head WHERE id = 1"


@contextmanager
def turn(person: Person | None = None, way: str = "") -> Iterator[tuple[int, str]]:
    """One transaction in which nobody else writes, claimed and sealed at its end. Gives number and seal of the movement
    that is the last one as it begins. Use it in a function that is `retried`."""
    with in_line(), transaction.atomic():
        end = _end(_END + until_commit())
        with claimed_and_sealed(person, way):
            yield end


def end_of_chain() -> tuple[int, str]:
    """Number and seal of the last movement. Raises Head.DoesNotExist in a database without its end of the chain."""
    return _end(_END)


def written_so_far() -> tuple[int, int]:
    """Numbers of the last movement and of the last entry of the trail.

    While they stay, nothing was written: whatever the program writes makes one of either.
    """
    movement, entry = ask(_SO_FAR)[0]
    return movement, entry


def _end(sql: str) -> tuple[int, str]:
    row = ask_one(sql)
    if row is None:
        raise Head.DoesNotExist("The row of the end of the chain is missing.")
    number, seal = row
    return number, seal
