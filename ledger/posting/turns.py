"""Whose turn it is to write: locks are taken in one order, the end of the chain first and everything else after it.

What is written is worked out from the books as they stand: the book before a gauge, the strength on another record,
the next number of a series. So a writer takes the end of the chain before it reads any of these, and holds it until
commit. Writers wait in line for that one row. None reads what another is changing, and no two can deadlock. On SQLite
the transaction itself is the turn, since it begins with the only write lock there is.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from django.db import transaction

from distillery.people.models import Person
from distillery.seals.writing import claimed_and_sealed
from ledger.models import Head


@contextmanager
def turn(person: Person | None = None, way: str = "") -> Iterator[None]:
    """One transaction in which nobody else writes, claimed and sealed at its end. Use it in a function that is
    `retried`."""
    with transaction.atomic():
        Head.objects.select_for_update().get(id=1)
        with claimed_and_sealed(person, way):
            yield


def end_of_chain() -> tuple[int, str]:
    """Number and seal of the last movement."""
    head = Head.objects.get(pk=1)
    return head.last_number, head.last_seal
