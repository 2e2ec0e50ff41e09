"""Compares every row that has a trail with the newest entry about it, in the database itself."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from django.db.backends.base.base import BaseDatabaseWrapper

from distillery.trail.guards import content_sql
from distillery.trail.kept import Kept, kept_tables


@dataclass(frozen=True, slots=True)
class Apart:
    """A row that is not what the trail says of it."""

    table: str
    row: str
    sentence: str


def apart(connection: BaseDatabaseWrapper) -> Iterator[Apart]:
    """Rows changed, added or removed behind the trail's back, table after table."""
    for kept in kept_tables(connection):
        yield from _changed(connection, kept)
        yield from _removed(connection, kept)


_NEWEST = '(SELECT "row" AS kept_row, MAX(id) AS last FROM trail_entry WHERE "table" = \'{table}\' GROUP BY "row")'


def _changed(connection: BaseDatabaseWrapper, kept: Kept) -> Iterator[Apart]:
    key = f'CAST(t."{kept.key}" AS TEXT)'
    with connection.cursor() as cursor:
        cursor.execute(
            f"SELECT {key}, e.id IS NULL OR e.act = 'removed' FROM {kept.table} t "
            f"LEFT JOIN {_NEWEST.format(table=kept.table)} n ON n.kept_row = {key} "
            f"LEFT JOIN trail_entry e ON e.id = n.last "
            f"WHERE e.id IS NULL OR e.act = 'removed' OR e.content <> {content_sql(connection.vendor, kept, 't')} "
            f'ORDER BY t."{kept.key}"'
        )
        for row, unknown in cursor.fetchall():
            said = "the trail knows nothing of it" if unknown else "it is not what the trail says was written"
            yield Apart(kept.table, row, f"{kept.table} {row}: {said}")


def _removed(connection: BaseDatabaseWrapper, kept: Kept) -> Iterator[Apart]:
    with connection.cursor() as cursor:
        cursor.execute(
            f"SELECT n.kept_row FROM {_NEWEST.format(table=kept.table)} n JOIN trail_entry e ON e.id = n.last "
            f'LEFT JOIN {kept.table} t ON CAST(t."{kept.key}" AS TEXT) = n.kept_row '
            f"WHERE e.act <> 'removed' AND t.\"{kept.key}\" IS NULL ORDER BY n.last"
        )
        for (row,) in cursor.fetchall():
            yield Apart(kept.table, row, f"{kept.table} {row}: it is gone and the trail says nothing of that")
