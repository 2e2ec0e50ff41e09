"""The triggers that keep the books' clock as it was set. The floors above see that it is set in empty books only."""

from __future__ import annotations

from django.db.backends.base.base import BaseDatabaseWrapper

from distillery.database.guards import Guard, append_only

TABLE = "clock_booksclock"


def clock_guards(connection: BaseDatabaseWrapper) -> list[Guard]:
    """The guards of the clock on this engine."""
    return append_only(TABLE, vendor=connection.vendor)
