"""Tries a piece of writing again where the database was busy, a bounded number of times, in this one place.

Two people who save at the same moment are no mistake of either. What a busy database says is tried again after a short
wait of random length; a refusal is not, and neither is anything inside a larger transaction, which only whoever began
it can begin again. When it does not come free the user is told so in a sentence, with nothing saved.

What counts as busy: SQLite's BUSY and LOCKED result codes (sqlite.org/rescode.html), and PostgreSQL's serialization
failure 40001, deadlock 40P01 and lock not available 55P03 (PostgreSQL documentation, appendix A).
"""

from __future__ import annotations

import random
import sqlite3
import time
from collections.abc import Callable
from functools import wraps
from typing import Final, ParamSpec, TypeVar

from django.db import DatabaseError, InterfaceError, OperationalError, connection

ATTEMPTS: Final = 8
LONGEST_S: Final = 30.0
FIRST_WAIT_S: Final = 0.02
LONGEST_WAIT_S: Final = 1.0
# An extended result code keeps the plain one in its low byte.
SQLITE_BUSY_CODES: Final = frozenset({sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED})
POSTGRESQL_BUSY_STATES: Final = frozenset({"40001", "40P01", "55P03"})
# Connection exceptions of class 08, and a server that shuts down, crashed or is starting.
POSTGRESQL_AWAY_STATES: Final = frozenset({"08000", "08001", "08003", "08004", "08006", "57P01", "57P02", "57P03"})

Given = ParamSpec("Given")
Made = TypeVar("Made")


class Busy(Exception):
    """The database did not come free in time; nothing was written."""

    sentence = "The books are busy; nothing was saved; press Save again."

    def __init__(self) -> None:
        super().__init__(self.sentence)


def retried(write: Callable[Given, Made]) -> Callable[Given, Made]:
    """Runs a function that opens its own transaction again while the database is busy. Raises Busy after the bound.

    The function must be one that can be run anew from its arguments alone.
    """

    @wraps(write)
    def patient(*args: Given.args, **kwargs: Given.kwargs) -> Made:
        if connection.in_atomic_block:
            return write(*args, **kwargs)
        until = time.monotonic() + LONGEST_S
        for attempt in range(ATTEMPTS):
            try:
                return write(*args, **kwargs)
            except DatabaseError as error:
                if not is_busy(error):
                    raise
                if attempt == ATTEMPTS - 1 or time.monotonic() >= until:
                    raise Busy from error
            time.sleep(random.uniform(0.5, 1) * min(FIRST_WAIT_S * 2**attempt, LONGEST_WAIT_S))
        raise Busy

    return patient


class Away(Exception):
    """The database does not answer, and whether something was written is not known."""

    sentence = (
        "The database does not answer. Wait a moment and send this again: a sheet that was kept already is not kept "
        "twice."
    )


def is_away(error: BaseException) -> bool:
    """True where the server of the database is not there, or went away in the middle of a statement."""
    cause = error.__cause__
    if isinstance(cause, sqlite3.Error):
        return getattr(cause, "sqlite_errorcode", 0) & 0xFF == sqlite3.SQLITE_CANTOPEN
    if not isinstance(error, (OperationalError, InterfaceError)) or not hasattr(cause, "sqlstate"):
        return False
    # What the driver says of a lost connection has no code of the server's.
    state = getattr(cause, "sqlstate", None)
    return state is None or state in POSTGRESQL_AWAY_STATES


def is_busy(error: DatabaseError) -> bool:
    """True where the same statement may well succeed a moment later."""
    cause = error.__cause__
    if isinstance(cause, sqlite3.Error):
        return getattr(cause, "sqlite_errorcode", 0) & 0xFF in SQLITE_BUSY_CODES
    return getattr(cause, "sqlstate", None) in POSTGRESQL_BUSY_STATES
