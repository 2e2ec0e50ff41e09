"""Compares every row that has a trail with the newest entry about it, in the database itself."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from django.db.backends.base.base import BaseDatabaseWrapper

from distillery.trail.guards import content_sql
from distillery.trail.kept import Kept, kept_tables
from distillery.trail.meaning import same_meaning

# As many as one question may name on either engine.
CHUNK: Final = 500


@dataclass(frozen=True, slots=True)
class Apart:
    """A row that is not what the trail says of it."""

    table: str
    row: str
    sentence: str


def apart(connection: BaseDatabaseWrapper, *, after: int = 0) -> Iterator[Apart]:
    """Rows changed, added or removed behind the trail's back, table after table.

    After an entry of the trail only the rows it was written about since, and those added since, are looked at.
    """
    for kept in kept_tables(connection):
        if after:
            yield from _apart_since(connection, kept, after)
            continue
        yield from _changed(connection, kept)
        yield from _removed(connection, kept)


_NEWEST = '(SELECT "row" AS kept_row, MAX(id) AS last FROM trail_entry WHERE "table" = \'{table}\' GROUP BY "row")'


def _same_row(connection: BaseDatabaseWrapper, kept: Kept) -> str:
    """SQL for 'this row of the table is the one the trail names', so that each engine finds it without a search."""
    as_text = f'CAST(t."{kept.key}" AS TEXT) = n.kept_row'
    # SQLite finds a key by its index only where the column stands alone; it compares a number with a text as numbers,
    # so '07' would find 7, and the text is asked for too.
    return f't."{kept.key}" = n.kept_row AND {as_text}' if connection.vendor == "sqlite" else as_text


def _changed(connection: BaseDatabaseWrapper, kept: Kept) -> Iterator[Apart]:
    key, content = f'CAST(t."{kept.key}" AS TEXT)', content_sql(connection.vendor, kept, "t")
    with connection.cursor() as cursor:
        cursor.execute(
            f"SELECT {key}, e.id IS NULL OR e.act = 'removed', e.content, {content} FROM {kept.table} t "
            f"LEFT JOIN {_NEWEST.format(table=kept.table)} n ON n.kept_row = {key} "
            f"LEFT JOIN trail_entry e ON e.id = n.last "
            f"WHERE e.id IS NULL OR e.act = 'removed' OR e.content <> {content} "
            f'ORDER BY t."{kept.key}"'
        )
        for row, unknown, written, stands in cursor.fetchall():
            if not unknown and same_meaning(kept.table, written, stands):
                continue
            said = "the trail knows nothing of it" if unknown else "it is not what the trail says was written"
            yield Apart(kept.table, row, f"{kept.table} {row}: {said}")


def _removed(connection: BaseDatabaseWrapper, kept: Kept) -> Iterator[Apart]:
    with connection.cursor() as cursor:
        cursor.execute(
            f"SELECT n.kept_row FROM {_NEWEST.format(table=kept.table)} n JOIN trail_entry e ON e.id = n.last "
            f"LEFT JOIN {kept.table} t ON {_same_row(connection, kept)} "
            f"WHERE e.act <> 'removed' AND t.\"{kept.key}\" IS NULL ORDER BY n.last"
        )
        for (row,) in cursor.fetchall():
            yield Apart(kept.table, row, f"{kept.table} {row}: it is gone and the trail says nothing of that")


def _apart_since(connection: BaseDatabaseWrapper, kept: Kept, after: int) -> Iterator[Apart]:
    """As above of the rows named by entries after one, and of the rows whose keys lie above the first that was added.

    The newest row is always among them: one added behind the trail's back would be it.
    """
    # SQLite would look through all entries of the table if it could; the sign keeps it to those after the entry.
    table = '+"table"' if connection.vendor == "sqlite" else '"table"'
    key, content = f'CAST(t."{kept.key}" AS TEXT)', content_sql(connection.vendor, kept, "t")
    with connection.cursor() as cursor:
        cursor.execute(
            f'SELECT "row", MAX(id) FROM trail_entry WHERE id > %s AND {table} = %s GROUP BY "row"', [after, kept.table]
        )
        newest: dict[str, int] = dict(cursor.fetchall())
        cursor.execute(f'SELECT MAX("{kept.key}") FROM {kept.table}')
        (last,) = cursor.fetchone()
        from_here = min([last, *_added(connection, kept, newest, after)]) if isinstance(last, int) else None
        for named in _chunks(list(newest)):
            yield from _named_rows(connection, kept, named)
        if from_here is None:
            return
        cursor.execute(
            f'SELECT {key} FROM {kept.table} t WHERE t."{kept.key}" >= %s AND NOT EXISTS (SELECT 1 FROM trail_entry e '
            f'WHERE e."table" = %s AND e."row" = {key} AND e.act <> \'removed\' AND e.content = {content}) '
            f'ORDER BY t."{kept.key}"',
            [from_here, kept.table],
        )
        unknown = [row for (row,) in cursor.fetchall() if row not in newest]
    for several in _chunks(unknown):
        # What the other engine wrote of a row is another text of the same meaning.
        beside = _beside_entries(connection, kept, several)
        known = {row for row, removed, _, differs in beside if not (removed or differs)}
        for row in several:
            if row not in known:
                yield Apart(kept.table, row, f"{kept.table} {row}: the trail knows nothing of it")


def _added(connection: BaseDatabaseWrapper, kept: Kept, newest: dict[str, int], after: int) -> list[int]:
    """Keys of the rows that were added after an entry of the trail: those that no earlier entry names."""
    added = []
    with connection.cursor() as cursor:
        for rows in _chunks([row for row in newest if row.isdecimal()]):
            marks = ", ".join(["%s"] * len(rows))
            cursor.execute(
                f'SELECT DISTINCT "row" FROM trail_entry WHERE "table" = %s AND "row" IN ({marks}) AND id <= %s',
                [kept.table, *rows, after],
            )
            added += [int(row) for row in {*rows} - {row for (row,) in cursor.fetchall()}]
    return added


def _named_rows(connection: BaseDatabaseWrapper, kept: Kept, rows: list[str]) -> Iterator[Apart]:
    for row, removed, gone, differs in _beside_entries(connection, kept, rows):
        said = ""
        if removed and not gone:
            said = "the trail knows nothing of it"
        elif gone and not removed:
            said = "it is gone and the trail says nothing of that"
        elif not gone and differs:
            said = "it is not what the trail says was written"
        if said:
            yield Apart(kept.table, row, f"{kept.table} {row}: {said}")


def _beside_entries(
    connection: BaseDatabaseWrapper, kept: Kept, rows: list[str]
) -> Iterator[tuple[str, bool, bool, bool]]:
    """Of these rows: whether the newest entry says removed, whether it is gone, and whether it says something else."""
    marks = ", ".join(["%s"] * len(rows))
    content = content_sql(connection.vendor, kept, "t")
    with connection.cursor() as cursor:
        cursor.execute(
            f"SELECT n.kept_row, e.act = 'removed', t.\"{kept.key}\" IS NULL, e.content, "
            f'CASE WHEN t."{kept.key}" IS NULL OR e.content = {content} THEN NULL ELSE {content} END '
            f'FROM (SELECT "row" AS kept_row, MAX(id) AS last FROM trail_entry WHERE "table" = %s '
            f'AND "row" IN ({marks}) GROUP BY "row") n JOIN trail_entry e ON e.id = n.last '
            f"LEFT JOIN {kept.table} t ON {_same_row(connection, kept)} ORDER BY n.last",
            [kept.table, *rows],
        )
        for row, removed, gone, written, stands in cursor.fetchall():
            differs = stands is not None and not same_meaning(kept.table, written, stands)
            yield row, bool(removed), bool(gone), differs


def _chunks(rows: list[str]) -> Iterator[list[str]]:
    for first in range(0, len(rows), CHUNK):
        yield rows[first : first + CHUNK]
