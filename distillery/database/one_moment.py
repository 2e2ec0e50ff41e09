"""Several questions answered as of one moment, whatever is written meanwhile, without holding anybody up.

SQLite with a write-ahead log gives each read transaction the database as it was at its first question
(sqlite.org/isolation.html); PostgreSQL does so at the isolation level REPEATABLE READ.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from django.db import connection


@contextmanager
def as_at_one_moment() -> Iterator[None]:
    """Whatever is asked inside is answered as of the first question. Nothing is written inside.

    Inside a transaction that holds the books nothing changes anyway.
    """
    if connection.in_atomic_block:
        yield
        return
    # Not `atomic`, which begins by taking the write lock on SQLite.
    sqlite = connection.vendor == "sqlite"
    with connection.cursor() as cursor:
        cursor.execute("BEGIN DEFERRED" if sqlite else "BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY")
    try:
        yield
    finally:
        with connection.cursor() as cursor:
            cursor.execute("ROLLBACK")
