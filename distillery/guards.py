"""Triggers that keep facts as they were written, made alike for both database engines.

A table of facts takes rows and never gives one up: update, delete and (on PostgreSQL) truncate are
refused by the database itself, whoever asks. SQLite drops triggers without a word when a later schema
change rebuilds a table, so what must be there is listed here by name and looked for at every start.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from django.db.backends.base.base import BaseDatabaseWrapper

NEXT = "\n-- next\n"

# Databases in the middle of `migrate`, which puts the guards up once, at its end.
held_back: set[str] = set()


@dataclass(frozen=True, slots=True)
class Guard:
    """One trigger: the table it stands on, its name, the SQL that makes it on one engine, other tables it reads."""

    table: str
    name: str
    statements: tuple[str, ...]
    needs: tuple[str, ...] = ()


def append_only(table: str, *, vendor: str) -> list[Guard]:
    """The guards of a table whose rows are never changed and never removed."""
    message = f"{table} keeps what was written: add a correcting row instead"
    guards: list[Guard] = []
    if vendor == "sqlite":
        for act in ("update", "delete"):
            name = f"{table}_no_{act}"
            guards.append(
                Guard(
                    table,
                    name,
                    (
                        f"CREATE TRIGGER {name} BEFORE {act.upper()} ON {table} "
                        f"BEGIN SELECT RAISE(ABORT, '{message}'); END",
                    ),
                )
            )
        return guards
    function = f"{table}_keeps"
    make = (
        f"CREATE OR REPLACE FUNCTION {function}() RETURNS trigger LANGUAGE plpgsql AS $$ "
        f"BEGIN RAISE EXCEPTION '{message}' USING ERRCODE = 'restrict_violation'; END $$"
    )
    for act, each in (("update", "ROW"), ("delete", "ROW"), ("truncate", "STATEMENT")):
        name = f"{table}_no_{act}"
        guards.append(
            Guard(
                table,
                name,
                (
                    make,
                    f"CREATE TRIGGER {name} BEFORE {act.upper()} ON {table} "
                    f"FOR EACH {each} EXECUTE FUNCTION {function}()",
                ),
            )
        )
    return guards


def from_file(path: Path, *, table: str, name: str, needs: tuple[str, ...] = ()) -> Guard:
    """A guard whose SQL is kept in its own file, statements parted by a line `-- next`."""
    statements = tuple(part.strip().rstrip(";") for part in path.read_text(encoding="utf-8").split(NEXT))
    return Guard(table, name, statements, needs)


def present(connection: BaseDatabaseWrapper) -> set[str]:
    """Names of the triggers the database has now and that are switched on."""
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")
        else:
            cursor.execute("SELECT tgname FROM pg_trigger WHERE NOT tgisinternal AND tgenabled <> 'D'")
        return {row[0] for row in cursor.fetchall()}


def install(connection: BaseDatabaseWrapper, guards: list[Guard]) -> None:
    """Makes every guard that is not there yet, on tables that are; safe to call again after any schema change."""
    if connection.alias in held_back:
        return
    there = present(connection)
    tables = set(connection.introspection.table_names())
    with connection.cursor() as cursor:
        for guard in guards:
            if guard.name not in there and tables.issuperset((guard.table, *guard.needs)):
                for statement in guard.statements:
                    cursor.execute(statement)


def remove(connection: BaseDatabaseWrapper, guards: list[Guard]) -> None:
    """Takes the guards away: for reversing a migration and for tests that must empty tables."""
    there = present(connection)
    with connection.cursor() as cursor:
        for guard in guards:
            if guard.name not in there:
                continue
            on_table = "" if connection.vendor == "sqlite" else f" ON {guard.table}"
            cursor.execute(f"DROP TRIGGER IF EXISTS {guard.name}{on_table}")


def missing(connection: BaseDatabaseWrapper, guards: list[Guard]) -> list[str]:
    """Names of guards that should stand on existing tables and do not."""
    tables = set(connection.introspection.table_names())
    there = present(connection)
    return [
        guard.name for guard in guards if tables.issuperset((guard.table, *guard.needs)) and guard.name not in there
    ]
