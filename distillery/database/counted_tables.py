"""How many rows the tables have, counted for the database, which else guesses the way to them.

SQLite chooses the way of a question by such counts and makes none by itself. Without them a question may begin at all
casks where it should begin at the ten movements it names. In books of some years an enquiry's page then takes three
times as long. PostgreSQL counts by itself.
"""

from __future__ import annotations

import logging
from typing import Final

from django.db import DatabaseError, connection
from django.db.models import Max

from distillery.trail.models import Entry

log = logging.getLogger(__name__)

# Below so many entries of the trail every way is short.
FEW: Final = 20_000
# Counted again once there is so much more than when it was counted last.
MORE: Final = 1.2
# What is counted is an average: so many rows a value. Here it leads astray: nearly every vessel is a cask and nearly
# every record complete, and what is asked for by kind and state are the few others.
ASKED_FOR_THE_FEW: Final = ("vessel_by_kind", "record_by_state")


def count_tables() -> None:
    """Counts the rows of all tables where they have grown since. It writes for a third of a second in books of five
    years; where another writes all the while it is left to the next time, since answers are the same without it."""
    if connection.vendor != "sqlite":
        return
    try:
        entries = Entry.objects.aggregate(last=Max("pk"))["last"] or 0
        if entries >= max(FEW, MORE * _counted()):
            with connection.cursor() as cursor:
                cursor.execute("ANALYZE")
                for index in ASKED_FOR_THE_FEW:
                    cursor.execute("DELETE FROM sqlite_stat1 WHERE idx = %s", [index])
                # Has the counts read again; it counts nothing.
                cursor.execute("ANALYZE sqlite_schema")
    except DatabaseError:
        if connection.in_atomic_block:
            raise
        log.exception("The rows of the tables were not counted.")


def _counted() -> int:
    """How many entries of the trail there were when they were counted last; 0 where they never were."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1 FROM sqlite_master WHERE name = 'sqlite_stat1'")
        if cursor.fetchone() is None:
            return 0
        # The first figure of the text is the number of rows.
        cursor.execute("SELECT stat FROM sqlite_stat1 WHERE tbl = %s LIMIT 1", [Entry._meta.db_table])
        row = cursor.fetchone()
    return int(row[0].split()[0]) if row is not None else 0
