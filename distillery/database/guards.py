"""Triggers that keep facts as they were written, made alike for both database engines.

A table of facts takes rows and never gives one up: update, delete and (on PostgreSQL) truncate are
refused by the database itself, whoever asks. SQLite drops triggers without a word when a later schema
change rebuilds a table, so what must be there is listed here and looked for at every start.

`INSERT OR REPLACE` takes the row in its way out of the table without asking the triggers on delete
(sqlite.org/lang_conflict.html, REPLACE), so on SQLite a trigger of its own refuses a row that would take the place
of another. PostgreSQL has no such statement: what ON CONFLICT DO UPDATE changes fires the triggers on update.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from django.apps import apps
from django.db import connections, models
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
        guards += no_replacing(table, vendor=vendor)
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


def no_replacing(table: str, *, vendor: str, on_update: bool = False) -> list[Guard]:
    """The guard that refuses a row put in the place of another; with `on_update` also one that is changed into it."""
    if vendor != "sqlite":
        return []
    key, others = _unique_sets(table)
    message = f"a row of {table} is never put in the place of another"
    same = [_there(table, [key]), *(_there(table, columns, only) for columns, only in others)]
    name = f"{table}_no_replace"
    make = f"CREATE TRIGGER {name} BEFORE INSERT ON {table} WHEN {' OR '.join(same)} "
    guards = [Guard(table, name, (f"{make}BEGIN SELECT RAISE(ABORT, '{message}'); END",))]
    if on_update:
        another = f'there."{key}" <> OLD."{key}"'
        same = [
            f'(NEW."{key}" <> OLD."{key}" AND {_there(table, [key])})',
            *(_there(table, columns, f"{only} AND {another}" if only else another) for columns, only in others),
        ]
        name = f"{table}_no_taking_place"
        make = f"CREATE TRIGGER {name} BEFORE UPDATE ON {table} WHEN {' OR '.join(same)} "
        guards.append(Guard(table, name, (f"{make}BEGIN SELECT RAISE(ABORT, '{message}'); END",)))
    return guards


def _there(table: str, columns: Sequence[str], only: str = "") -> str:
    same = " AND ".join(f'there."{column}" = NEW."{column}"' for column in columns)
    return f"EXISTS (SELECT 1 FROM {table} there WHERE {same}{f' AND {only}' if only else ''})"


def _unique_sets(table: str) -> tuple[str, list[tuple[list[str], str]]]:
    """The key of a table, and what else may stand in it once: columns, with the condition on the row that is there."""
    model = next(one for one in apps.get_models(include_auto_created=True) if one._meta.db_table == table)
    sets = [([str(one.column)], "") for one in model._meta.concrete_fields if one.unique and not one.primary_key]
    sets += [(_columns(model, names), "") for names in model._meta.unique_together]
    for one in model._meta.constraints:
        if isinstance(one, models.UniqueConstraint) and one.fields:
            only = ""
            if one.condition is not None:
                # Never entered, so it changes nothing: it only quotes the values of the condition.
                editor = connections["default"].schema_editor(collect_sql=True)
                only = one._get_condition_sql(model, editor)  # type: ignore[attr-defined]
            sets.append((_columns(model, one.fields), only))
    return str(model._meta.pk.column), sets


def _columns(model: type[models.Model], names: Sequence[str]) -> list[str]:
    columns = {one.name: str(one.column) for one in model._meta.concrete_fields}
    return [columns[name] for name in names]


def from_file(folder: Path, file: str, *, table: str, name: str, needs: tuple[str, ...] = ()) -> Guard:
    """A guard whose SQL is kept in a numbered file of its own, statements parted by a line `-- next`.

    `0002_leg_adds_up.sql` is never edited once released: a change is a new file of the same name with the next number
    of its folder, and the highest number is the one that stands.
    """
    newest = max(folder.glob(f"[0-9][0-9][0-9][0-9]_{file}.sql"))
    statements = tuple(part.strip().rstrip(";") for part in newest.read_text(encoding="utf-8").split(NEXT))
    return Guard(table, name, statements, needs)


def present(connection: BaseDatabaseWrapper) -> set[str]:
    """Names of the triggers the database has now and that are switched on."""
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")
        else:
            cursor.execute("SELECT tgname FROM pg_trigger WHERE NOT tgisinternal AND tgenabled <> 'D'")
        return {row[0] for row in cursor.fetchall()}


def due(connection: BaseDatabaseWrapper, guards: Sequence[Guard]) -> list[Guard]:
    """Those guards whose tables the database has."""
    tables = set(connection.introspection.table_names())
    return [guard for guard in guards if tables.issuperset((guard.table, *guard.needs))]


def install(connection: BaseDatabaseWrapper, guards: Sequence[Guard]) -> None:
    """Makes every guard that is not there yet, on tables that are; safe to call again after any schema change."""
    if connection.alias in held_back:
        return
    there = present(connection)
    renew(connection, [guard for guard in due(connection, guards) if guard.name not in there])


def renew(connection: BaseDatabaseWrapper, guards: Sequence[Guard]) -> None:
    """Makes guards anew, in the place of whatever stands under their names."""
    with connection.cursor() as cursor:
        for guard in guards:
            cursor.execute(_drop(connection, guard))
            for statement in guard.statements:
                cursor.execute(statement)


def remove(connection: BaseDatabaseWrapper, guards: Sequence[Guard]) -> None:
    """Takes the guards away: for reversing a migration and for tests that must empty tables."""
    there = present(connection)
    with connection.cursor() as cursor:
        for guard in guards:
            if guard.name in there:
                cursor.execute(_drop(connection, guard))


def _drop(connection: BaseDatabaseWrapper, guard: Guard) -> str:
    on_table = "" if connection.vendor == "sqlite" else f" ON {guard.table}"
    return f"DROP TRIGGER IF EXISTS {guard.name}{on_table}"


def missing(connection: BaseDatabaseWrapper, guards: Sequence[Guard]) -> list[str]:
    """Names of guards that should stand on existing tables and do not."""
    there = present(connection)
    return [guard.name for guard in due(connection, guards) if guard.name not in there]
