"""Rows read as the database gives them, for whoever reads all there are: no object for a row, none for a moment.

A moment is asked for as text, which is nearer to what is sealed than the object that a driver and Django make of it.
`distillery.hashing.moment_text` makes of it what is hashed, whichever engine gave it.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any, Final

from django.core.exceptions import EmptyResultSet
from django.db import DEFAULT_DB_ALIAS, connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models import F, Func, QuerySet, TextField
from django.db.models.expressions import Combinable
from django.db.models.sql.compiler import SQLCompiler

Row = tuple[Any, ...]

# The sign changes nothing, but what it makes has no declared type that SQLite's module would convert.
SQLITE_AS_KEPT: Final = "+%s"
POSTGRESQL_AS_TEXT: Final = "to_char(%s AT TIME ZONE 'UTC', 'YYYY-MM-DD\"T\"HH24:MI:SS.US\"Z\"')"
BATCH: Final = 5000


class MomentText(Func):
    """A moment as text: as SQLite keeps it, or as PostgreSQL writes it in the form that is hashed."""

    output_field = TextField()
    template = SQLITE_AS_KEPT % "%(expressions)s"

    def __init__(self, moment: str | Combinable) -> None:
        super().__init__(F(moment) if isinstance(moment, str) else moment)

    def as_postgresql(
        self, compiler: SQLCompiler, connection: BaseDatabaseWrapper, **more: Any
    ) -> tuple[str, list[Any]]:
        """What only PostgreSQL says."""
        sql, values = self.as_sql(compiler, connection, template=POSTGRESQL_AS_TEXT % "%(expressions)s", **more)
        return sql, list(values)


def rows_of(rows: QuerySet[Any], *columns: str | MomentText) -> Iterator[Row]:
    """The columns of rows, in their order, a batch in memory at a time; values as the driver gives them.

    Asked for past Django's own conversions, so a column that needs one (a moment on SQLite) is given as `MomentText`.
    """
    try:
        sql, values = rows.values_list(*columns).query.get_compiler(DEFAULT_DB_ALIAS).as_sql()
    except EmptyResultSet:
        # What is asked for can be in no table: one of no keys.
        return
    with connections[DEFAULT_DB_ALIAS].chunked_cursor() as cursor:
        cursor.execute(sql, values)
        while batch := cursor.fetchmany(BATCH):
            yield from batch


def moment_of(text: str) -> datetime:
    """The moment that a text as `MomentText` gives it says. Raises ValueError for one that says none."""
    read = datetime.fromisoformat(text)
    return read if read.tzinfo else read.replace(tzinfo=UTC)
