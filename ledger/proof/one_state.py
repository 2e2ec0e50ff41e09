"""One state of the books for whoever reads all of them, whatever is written meanwhile.

On SQLite (WAL) a transaction sees the database as it was at its first question, and writers go on beside it. On
PostgreSQL a transaction of `REPEATABLE READ` does the same, and hands its snapshot on to other connections. Inside a
transaction that is going on already, as in tests, the reading belongs to that one.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from django.db.backends.base.base import BaseDatabaseWrapper


@contextmanager
def one_state(connection: BaseDatabaseWrapper) -> Iterator[None]:
    """All that is asked within sees the books of one moment: that of the first question."""
    if connection.in_atomic_block:
        yield
        return
    begin_to_see(connection)
    try:
        yield
    finally:
        with connection.cursor() as cursor:
            cursor.execute("ROLLBACK")


def begin_to_see(connection: BaseDatabaseWrapper, *, snapshot: str = "") -> None:
    """Begins the transaction of `one_state`: as the books are now, or as a snapshot has them."""
    connection.ensure_connection()
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("BEGIN DEFERRED")
            # What is asked first sets the moment.
            cursor.execute("SELECT COUNT(*) FROM ledger_head")
            return
        cursor.execute("BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY")
        if snapshot:
            cursor.execute("SET TRANSACTION SNAPSHOT %s", [snapshot])


def exported_snapshot(connection: BaseDatabaseWrapper) -> str:
    """The name under which other connections see what this one sees; PostgreSQL alone has it."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_export_snapshot()")
        (name,) = cursor.fetchone()
    return str(name)
