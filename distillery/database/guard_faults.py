"""Whether the triggers that stand are the ones the program makes: body, table, switched on, and the function called.

A trigger of the right name can be empty, call another function, or be switched off. So what the database says of each
is compared with the SQL that makes it, whitespace aside. On PostgreSQL a function is compared by its source, language
and settings, because a trigger only names it. Whatever else stands on the same tables and could swallow or change a
row is named too: triggers that are not the program's, rules, and a session that fires no triggers.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.db.backends.base.base import BaseDatabaseWrapper

from distillery.database.guards import Guard, due

_FUNCTION = re.compile(
    r"CREATE OR REPLACE FUNCTION (?P<name>\w+)\(.*?LANGUAGE (?P<language>\w+)(?P<more>.*?)AS \$\$(?P<source>.*)\$\$",
    re.DOTALL,
)
_SETTING = re.compile(r"SET (\w+) = '([^']*)'")


@dataclass(frozen=True, slots=True)
class Fault:
    """A guard that does not stand as it should. `sentence` names the trigger and its table, and says what is wrong."""

    guard: Guard
    sentence: str
    missing: bool = False


@dataclass(frozen=True, slots=True)
class Stranger:
    """A trigger or rule on a guarded table that is not the program's; `remove` is the SQL that takes it away."""

    name: str
    sentence: str
    remove: str


def faults(connection: BaseDatabaseWrapper, guards: Sequence[Guard]) -> list[Fault]:
    """One for each guard that is missing, switched off, or not as the program makes it."""
    wanted = due(connection, guards)
    if connection.vendor == "sqlite":
        return _sqlite_faults(connection, wanted)
    return _postgresql_faults(connection, wanted)


def strangers(connection: BaseDatabaseWrapper, guards: Sequence[Guard]) -> list[Stranger]:
    """Triggers and rules on the guarded tables that are none of `guards`, which must be all of the site's."""
    ours = {(guard.table, guard.name) for guard in guards}
    tables = {guard.table for guard in guards}
    sqlite = connection.vendor == "sqlite"
    found = []
    with connection.cursor() as cursor:
        if sqlite:
            cursor.execute("SELECT tbl_name, name FROM sqlite_master WHERE type = 'trigger' ORDER BY tbl_name, name")
        else:
            cursor.execute(
                "SELECT c.relname, t.tgname FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid"
                " WHERE NOT t.tgisinternal AND c.relnamespace = current_schema()::regnamespace ORDER BY 1, 2"
            )
        for table, name in cursor.fetchall():
            if table in tables and (table, name) not in ours:
                on_table = "" if sqlite else f" ON {table}"
                sentence = f"The trigger {name} on {table} is not the program's"
                found.append(Stranger(name, sentence, f'DROP TRIGGER "{name}"{on_table}'))
        if not sqlite:
            cursor.execute(
                "SELECT c.relname, r.rulename FROM pg_rewrite r JOIN pg_class c ON c.oid = r.ev_class"
                " WHERE c.relnamespace = current_schema()::regnamespace AND c.relkind IN ('r', 'p') ORDER BY 1, 2"
            )
            for table, name in cursor.fetchall():
                if table in tables:
                    sentence = f"The rule {name} on {table} is not the program's"
                    found.append(Stranger(name, sentence, f'DROP RULE "{name}" ON {table}'))
    return found


def silenced(connection: BaseDatabaseWrapper) -> str:
    """What is wrong where the session fires no triggers (PostgreSQL can be set so for a database or a person)."""
    if connection.vendor == "sqlite":
        return ""
    with connection.cursor() as cursor:
        cursor.execute("SHOW session_replication_role")
        row = cursor.fetchone()
    if row is None or row[0] == "origin":
        return ""
    return f"The database fires no triggers for this program: session_replication_role is {row[0]}, not origin"


def _sqlite_faults(connection: BaseDatabaseWrapper, guards: Sequence[Guard]) -> list[Fault]:
    with connection.cursor() as cursor:
        cursor.execute("SELECT name, tbl_name, sql FROM sqlite_master WHERE type = 'trigger'")
        there = {name: (table, _plain(sql)) for name, table, sql in cursor.fetchall()}
    found = []
    for guard in guards:
        if guard.name not in there:
            found.append(_missing(guard))
        elif there[guard.name] != (guard.table, _plain(guard.statements[-1])):
            found.append(_changed(guard))
    return found


def _postgresql_faults(connection: BaseDatabaseWrapper, guards: Sequence[Guard]) -> list[Fault]:
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT c.relname, t.tgname, t.tgenabled::text, pg_get_triggerdef(t.oid, true),"
            " p.pronamespace = c.relnamespace"
            " FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid JOIN pg_proc p ON p.oid = t.tgfoid"
            " WHERE NOT t.tgisinternal AND c.relnamespace = current_schema()::regnamespace"
        )
        there = {(table, name): tuple(rest) for table, name, *rest in cursor.fetchall()}
        cursor.execute(
            "SELECT p.proname, l.lanname, p.prosrc, p.proconfig, p.prosecdef FROM pg_proc p"
            " JOIN pg_language l ON l.oid = p.prolang WHERE p.pronamespace = current_schema()::regnamespace"
        )
        functions: dict[str, list[tuple[object, ...]]] = defaultdict(list)
        for name, language, source, settings, as_owner in cursor.fetchall():
            functions[name].append((language, source, _settings(settings or ()), as_owner))
    found = []
    for guard in guards:
        if (guard.table, guard.name) not in there:
            found.append(_missing(guard))
            continue
        on, definition, own_function = there[guard.table, guard.name]
        if on != "O":
            found.append(Fault(guard, f"The trigger {guard.name} on {guard.table} is not switched on as it was made"))
        elif _plain(str(definition)) != _plain(guard.statements[-1]) or not own_function:
            found.append(_changed(guard))
        else:
            wrong = [name for name, made in _functions_of(guard) if functions.get(name) != [made]]
            if wrong:
                found.append(_changed(guard, f": its function {wrong[0]} is another"))
    return found


def _functions_of(guard: Guard) -> Iterable[tuple[str, tuple[object, ...]]]:
    for statement in guard.statements[:-1]:
        match = _FUNCTION.search(statement)
        assert match is not None, f"{guard.name} is made by a statement that cannot be compared"
        settings = [f"{name}={value}" for name, value in _SETTING.findall(match["more"])]
        yield match["name"], (match["language"], match["source"], _settings(settings), False)


def _settings(settings: Iterable[str]) -> tuple[str, ...]:
    return tuple(sorted(one.lower() for one in settings))


def _missing(guard: Guard) -> Fault:
    return Fault(guard, f"The trigger {guard.name} is missing from {guard.table}", missing=True)


def _changed(guard: Guard, how: str = "") -> Fault:
    return Fault(guard, f"The trigger {guard.name} on {guard.table} is not as this program makes it{how}")


def _plain(sql: str) -> str:
    return " ".join(sql.split()).rstrip("; ")
