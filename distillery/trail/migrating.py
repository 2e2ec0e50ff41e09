"""Takes the guards down before migrations change tables on SQLite, and puts every one up after, on either engine.

SQLite rebuilds a table for most changes of it: it drops the table's own triggers in silence, and refuses outright
while a trigger of another table names it (sqlite.org/lang_altertable.html, section 7). So the guards come down first
and go up once at the end. If a migration fails between, the site is not served until they are up again. Where there is
nothing to migrate nothing is put up: a trigger that is missing then was taken away, and somebody should hear of it.
Those that a migration finds otherwise than this version makes them are named as they are made anew.

What a migration writes while the trail is down is taken into it afterwards; a row that was apart from its trail before
stays apart, so that no migration makes a change behind the trail's back good. A table or a column that has only now
been given a trail is no such row.
"""

from __future__ import annotations

import json
import logging
from dataclasses import replace
from typing import Any

from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper

from distillery.database import guards
from distillery.database.guard_faults import faults
from distillery.trail.checks import all_guards, site_guards
from distillery.trail.claims import claim, last_entry
from distillery.trail.going_back import refuse_to_go_back
from distillery.trail.guards import CLAIMS, TABLE, content_sql
from distillery.trail.kept import kept_tables
from distillery.trail.meaning import same_meaning
from distillery.trail.proving import apart

_apart_before: dict[str, frozenset[tuple[str, str]]] = {}
_last_before: dict[str, int] = {}
_renewed: dict[str, list[str]] = {}
_log = logging.getLogger(__name__)


def before(*, using: str, plan: list[Any], **kwargs: Any) -> None:
    """Called once before `migrate` applies its plan."""
    if not plan:
        return
    connection = connections[using]
    refuse_to_go_back(connection, plan)
    _last_before[using] = last_entry(using=using) if TABLE in connection.introspection.table_names() else 0
    _apart_before[using] = _apart(connection) - _newly_kept(connection)
    _renewed[using] = [one.sentence for one in faults(connection, all_guards(connection)) if not one.missing]
    if connection.vendor == "sqlite":
        guards.remove(connection, all_guards(connection))
        guards.held_back.add(using)


def after(*, using: str, plan: list[Any], **kwargs: Any) -> None:
    """Called once after `migrate` has applied its plan."""
    if not plan:
        return
    connection = connections[using]
    guards.held_back.discard(using)
    # They name tables and columns, which may be others now.
    guards.remove(connection, site_guards(connection))
    everything = all_guards(connection)
    guards.install(connection, everything)
    guards.renew(connection, [one.guard for one in faults(connection, everything)])
    for sentence in _renewed.pop(using, ()):
        _log.warning("%s. It was made anew.", sentence)
    take_in(connection, leave=_apart_before.pop(using, frozenset()))
    if CLAIMS in connection.introspection.table_names():
        claim(_last_before.pop(using, 0), None, "migrate", using=using)


def take_in(connection: BaseDatabaseWrapper, *, leave: frozenset[tuple[str, str]] = frozenset()) -> list[str]:
    """Writes an entry for every row that is apart from its trail, but for those left; names table and key of each."""
    rows: dict[str, list[str]] = {}
    for table, row in sorted(_apart(connection) - leave):
        rows.setdefault(table, []).append(row)
    now = "strftime('%%Y-%%m-%%d %%H:%%M:%%f000', 'now')" if connection.vendor == "sqlite" else "clock_timestamp()"
    for kept in kept_tables(connection):
        content = content_sql(connection.vendor, kept, "t")
        with connection.cursor() as cursor:
            for row in rows.get(kept.table, ()):
                cursor.execute(
                    f'INSERT INTO trail_entry ("table", "row", act, "at", content) '
                    f"SELECT %s, %s, CASE WHEN COUNT(*) = 0 THEN 'removed' ELSE 'taken in' END, {now}, "
                    f"COALESCE(MAX({content}), '') FROM {kept.table} t WHERE t.\"{kept.key}\" = %s",
                    [kept.table, row, int(row) if row.isdigit() else row],
                )
    return [f"{table} {row}" for table, keys in rows.items() for row in keys]


def _apart(connection: BaseDatabaseWrapper) -> frozenset[tuple[str, str]]:
    if TABLE not in connection.introspection.table_names():
        return frozenset()
    return frozenset((one.table, one.row) for one in apart(connection))


def _newly_kept(connection: BaseDatabaseWrapper) -> frozenset[tuple[str, str]]:
    """Rows apart only because their table, or a column of it, was not in the trail so far."""
    if TABLE not in connection.introspection.table_names():
        return frozenset()
    found = []
    rows: dict[str, list[str]] = {}
    for one in apart(connection):
        rows.setdefault(one.table, []).append(one.row)
    for kept in kept_tables(connection):
        if kept.table not in rows:
            continue
        with connection.cursor() as cursor:
            cursor.execute('SELECT COUNT(*) FROM trail_entry WHERE "table" = %s', [kept.table])
            if cursor.fetchone() == (0,):
                found += [(kept.table, row) for row in rows[kept.table]]
                continue
            for row in rows[kept.table]:
                cursor.execute(
                    'SELECT content FROM trail_entry WHERE "table" = %s AND "row" = %s ORDER BY id DESC LIMIT 1',
                    [kept.table, row],
                )
                entry = cursor.fetchone()
                said = set(json.loads(entry[0])) if entry and entry[0] else set()
                then = replace(kept, columns=tuple(name for name in kept.columns if name in said))
                if not said or then.columns == kept.columns:
                    continue
                content = content_sql(connection.vendor, then, "t")
                cursor.execute(f'SELECT {content} FROM {kept.table} t WHERE CAST(t."{kept.key}" AS TEXT) = %s', [row])
                stands = cursor.fetchone()
                if stands is not None and same_meaning(kept.table, entry[0], stands[0]):
                    found.append((kept.table, row))
    return frozenset(found)
