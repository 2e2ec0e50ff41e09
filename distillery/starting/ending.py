"""How a command ends when what stands outside the program fails it: one sentence on the console, and status 1.

A setting that cannot be read, a database that does not answer, a full disk and a file that cannot be opened are no
faults of the program, so nobody is shown its insides for them. Its own faults still show where they lie.
"""

from __future__ import annotations

import sqlite3
import sys
from collections.abc import Sequence

from django.core.exceptions import ImproperlyConfigured
from django.db import DatabaseError, InterfaceError, OperationalError

from distillery.database.full_disk import FullDisk, is_full
from distillery.database.retrying import Busy, is_busy


def run_command(argv: Sequence[str]) -> int:
    """Runs one command of `manage.py` and gives its exit status."""
    from django.core.management import execute_from_command_line

    try:
        execute_from_command_line(list(argv))
    except (ImproperlyConfigured, DatabaseError, InterfaceError, OSError, Busy) as error:
        sentence = sentence_of(error)
        if sentence is None:
            raise
        print(sentence, file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        return 1
    return 0


def sentence_of(error: BaseException) -> str | None:
    """What is said of an error from outside, or None where it is a fault of the program."""
    if is_full(error):
        return FullDisk.sentence
    if isinstance(error, Busy) or (isinstance(error, DatabaseError) and is_busy(error)):
        return Busy.sentence.replace("press Save again", "give the command again")
    if isinstance(error, ImproperlyConfigured):
        return str(error)
    if isinstance(error, DatabaseError) and _is_not_ready(error):
        return "The database has none of the site's tables, or not all of them; run `migrate` or `demo` first."
    if isinstance(error, OperationalError | InterfaceError) or _is_no_database(error):
        said = " ".join(str(error).split())
        return f"The database cannot be used: {said}. Check DATABASE_URL, and whether its server runs."
    if isinstance(error, OSError) and error.filename is not None:
        return f"{error.filename} cannot be used: {error.strerror}."
    return None


def _is_not_ready(error: DatabaseError) -> bool:
    """A table that is not there: SQLite has words for it alone, PostgreSQL 42P01 undefined table."""
    return str(error).startswith("no such table") or getattr(error.__cause__, "sqlstate", None) == "42P01"


def _is_no_database(error: BaseException) -> bool:
    """A file that is no SQLite database, or a damaged one (sqlite.org/rescode.html)."""
    code = getattr(error.__cause__, "sqlite_errorcode", 0) & 0xFF
    return code in (sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_CORRUPT)
