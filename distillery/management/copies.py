"""Whole copies of the database, taken while the site runs and put back into an empty place.

SQLite: VACUUM INTO writes a consistent copy whoever else writes meanwhile (sqlite.org/lang_vacuum.html); the file
alone must never be copied, since its last changes lie in a second file beside it. PostgreSQL: its own pg_dump and
pg_restore. A copy gets its name only when it is complete and has been read back.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
import tempfile
from collections.abc import Callable
from contextlib import closing
from itertools import takewhile
from pathlib import Path
from typing import Final

from django.db import DatabaseError
from django.db.backends.base.base import BaseDatabaseWrapper

from distillery.database.full_disk import FULL, is_full
from distillery.database.history import forget, refusal

UNFINISHED: Final = ".unfinished"
LEDGER: Final = "ledger"
# What the name of a copy ends in, by the kind of database.
ENDINGS: Final = {"sqlite": "sqlite3", "postgresql": "dump"}


class CopyRefused(Exception):
    """No copy was taken or put back, and nothing was changed; the sentence says why."""


def take(connection: BaseDatabaseWrapper, file: Path) -> None:
    """Writes a copy of the whole database to a new `file`. Raises CopyRefused."""
    if file.exists():
        raise CopyRefused(f"{file} is there already, and a copy is never written over. Give another name.")
    if not file.parent.is_dir():
        raise CopyRefused(f"There is no folder {file.parent}. Make it first.")
    write = _engine(connection, sqlite=_write_sqlite, postgresql=_write_postgresql)
    try:
        # The copy holds password hashes, so it is the owner's alone from the first byte (mkstemp makes it so). Its
        # name is new each time, so that the remains of a copy that was broken off are in nobody's way.
        handle, made = tempfile.mkstemp(prefix=f"{file.name}.", suffix=UNFINISHED, dir=file.parent)
        os.close(handle)
    except OSError as error:
        raise CopyRefused(f"Nothing can be written in {file.parent}: {error.strerror}.") from error
    unfinished = Path(made)
    try:
        write(connection, unfinished)
        if file.exists():
            raise CopyRefused(f"{file} was made by somebody else meanwhile; give another name.")
        unfinished.rename(file)
    except (OSError, DatabaseError, sqlite3.Error) as error:
        raise CopyRefused(_not_written(file, error)) from error
    finally:
        _take_away(unfinished)


def put_back(connection: BaseDatabaseWrapper, file: Path) -> None:
    """Puts the copy in `file` into the database, which must have no table at all. Raises CopyRefused."""
    if not file.is_file():
        raise CopyRefused(f"There is no file {file}.")
    read = _engine(connection, sqlite=_read_sqlite, postgresql=_read_postgresql)
    if connection.introspection.table_names():
        raise CopyRefused(
            f"The database {connection.settings_dict['NAME']} is not empty, and a copy goes into an empty place only. "
            "Name another in DATABASE_URL, or move the present one away."
        )
    read(connection, file)
    forget()


def _take_away(unfinished: Path) -> None:
    """What was not finished, with the journal that SQLite kept beside it."""
    for left in (unfinished, unfinished.with_name(f"{unfinished.name}-journal")):
        left.unlink(missing_ok=True)


def _not_written(place: Path, error: Exception) -> str:
    if is_full(error):
        return f"The disk of {place} is full; nothing was written. Make room on it, or name another disk."
    said = (error.strerror if isinstance(error, OSError) else None) or error
    return f"{place} cannot be written: {said}. Nothing was written."


Engine = Callable[[BaseDatabaseWrapper, Path], None]


def _engine(connection: BaseDatabaseWrapper, *, sqlite: Engine, postgresql: Engine) -> Engine:
    engines = {"sqlite": sqlite, "postgresql": postgresql}
    if connection.vendor not in engines:
        raise CopyRefused(f"Copies are taken of SQLite and PostgreSQL only; this database is {connection.vendor}.")
    return engines[connection.vendor]


def _write_sqlite(connection: BaseDatabaseWrapper, file: Path) -> None:
    with connection.cursor() as cursor:
        cursor.execute("VACUUM INTO %s", [str(file)])
    _look_over(file)


def _read_sqlite(connection: BaseDatabaseWrapper, file: Path) -> None:
    _look_over(file)
    place = Path(str(connection.settings_dict["NAME"]))
    connection.close()
    unfinished = place.with_name(f"{place.name}{UNFINISHED}")
    try:
        unfinished.unlink(missing_ok=True)
        with closing(_opened(file)) as source, closing(sqlite3.connect(unfinished)) as copy:
            source.backup(copy)
        for leftover in (place, place.with_name(f"{place.name}-wal"), place.with_name(f"{place.name}-shm")):
            leftover.unlink(missing_ok=True)
        unfinished.replace(place)
    except (OSError, sqlite3.Error) as error:
        raise CopyRefused(_not_written(place, error)) from error
    finally:
        _take_away(unfinished)


def _opened(file: Path) -> sqlite3.Connection:
    return sqlite3.connect(f"{file.resolve().as_uri()}?mode=ro", uri=True)


def _look_over(file: Path) -> None:
    try:
        with closing(_opened(file)) as copy:
            faults = [row[0] for row in copy.execute("PRAGMA integrity_check(1)") if row[0] != "ok"]
            dangling = copy.execute("PRAGMA foreign_key_check").fetchone()
            applied = {(app, name) for app, name in copy.execute("SELECT app, name FROM django_migrations")}
    except sqlite3.Error as error:
        raise CopyRefused(f"{file} cannot be read as a copy of the site's database: {error}.") from error
    if faults or dangling:
        fault = faults[0] if faults else f"a row of {dangling[0]} points at nothing"
        raise CopyRefused(f"{file} is damaged: {fault}. Use an older copy.")
    _of_this_program(file, applied)


def _of_this_program(file: Path, applied: set[tuple[str, str]]) -> None:
    if not any(app == LEDGER for app, _ in applied):
        raise CopyRefused(f"{file} has no ledger in it: it is not a copy of the site's database.")
    said = refusal(str(file), applied)
    if said:
        raise CopyRefused(said)


def _write_postgresql(connection: BaseDatabaseWrapper, file: Path) -> None:
    where, environment = _place(connection)
    _run("pg_dump", ["--format=custom", f"--file={file}", *where], environment)
    _listed(file, environment)


def _read_postgresql(connection: BaseDatabaseWrapper, file: Path) -> None:
    where, environment = _place(connection)
    if f"TABLE DATA public {LEDGER}_movement" not in _listed(file, environment):
        raise CopyRefused(f"{file} has no ledger in it: it is not a copy of the site's database.")
    _of_this_program(file, _applied(file, environment))
    database = where.pop()
    how = ["--no-owner", "--no-privileges", "--single-transaction", "--exit-on-error", f"--dbname={database}"]
    connection.close()
    _run("pg_restore", [*how, *where, str(file)], environment)


def _place(connection: BaseDatabaseWrapper) -> tuple[list[str], dict[str, str]]:
    from django.db.backends.postgresql.client import DatabaseClient

    arguments, environment = DatabaseClient.settings_to_cmd_args_env(connection.settings_dict, [])
    return list(arguments[1:]), {**os.environ, **(environment or {})}


def _listed(file: Path, environment: dict[str, str]) -> str:
    return _run("pg_restore", ["--list", str(file)], environment)


def _applied(file: Path, environment: dict[str, str]) -> set[tuple[str, str]]:
    """App and name of each migration that a copy of PostgreSQL went through, read as the text of its own tool."""
    told = ["--data-only", "--table=django_migrations", "--file=-", str(file)]
    lines = iter(_run("pg_restore", told, environment).splitlines())
    columns = next((line.split("(")[1].split(")")[0].split(", ") for line in lines if line.startswith("COPY ")), [])
    rows = (line.split("\t") for line in takewhile(lambda line: line != "\\.", lines))
    return {(row[columns.index("app")], row[columns.index("name")]) for row in rows}


def _run(tool: str, arguments: list[str], environment: dict[str, str]) -> str:
    if shutil.which(tool) is None:
        raise CopyRefused(f"{tool} is not on this computer. Install PostgreSQL's client tools first.")
    done = subprocess.run([tool, *arguments], env=environment, capture_output=True, text=True, check=False)
    if done.returncode:
        if any(os.strerror(number) in done.stderr for number in FULL):
            raise CopyRefused(f"The disk is full, so {tool} could not write; nothing was kept. Make room on it.")
        if done.returncode < 0:
            # Among others, the signal that ends a program which writes more than it may.
            raise CopyRefused(
                f"The system stopped {tool} (signal {-done.returncode}); nothing was kept. Make room first."
            )
        raise CopyRefused(f"{tool} failed: {done.stderr.strip() or 'it gave no reason'}")
    return done.stdout
