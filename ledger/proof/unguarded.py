"""Whether anything could be written into the books past their triggers just now, for the proof and the checks."""

from __future__ import annotations

from collections.abc import Iterator

from django.db.backends.base.base import BaseDatabaseWrapper

from distillery.database.guard_faults import faults
from distillery.trail.checks import all_guards, beside_the_guards

HAND = "ledger_hand"


def unguarded(connection: BaseDatabaseWrapper) -> Iterator[str]:
    """One sentence for each trigger of any floor that does not stand as it should, and for whatever gets past them."""
    guards = all_guards(connection)
    for fault in faults(connection, guards):
        yield fault.sentence
    yield from beside_the_guards(connection, guards)
    yield from hand_left(connection)


def hand_left(connection: BaseDatabaseWrapper) -> Iterator[str]:
    """A sentence where `ledger_hand` has rows: while it has, anybody and not only a trigger can change the sums."""
    if HAND not in connection.introspection.table_names():
        return
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT COUNT(*) FROM {HAND}")
        row = cursor.fetchone()
    if row and row[0]:
        yield f"{HAND} is not empty ({row[0]}), so the sums can be written by any hand"


def take_hand_away(connection: BaseDatabaseWrapper) -> None:
    """Empties the table, so that only the triggers can write the sums again."""
    with connection.cursor() as cursor:
        cursor.execute(f"DELETE FROM {HAND}")
