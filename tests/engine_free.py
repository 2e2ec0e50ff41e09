"""Tests of pure functions: they open no database, so they say the same on every engine and `.ci/run` runs them once.

Whoever adds a test there that opens one is told so by the test itself, on whichever engine it runs.
"""

from __future__ import annotations

import sqlite3
from functools import cache
from pathlib import Path
from typing import Any, Final, NoReturn

import psycopg
import pytest
from django.db.backends.base.base import BaseDatabaseWrapper

HERE: Final = Path(__file__).resolve().parent
PLACES: Final = (
    HERE / "distillery" / "alcoholometry",
    HERE / "distillery" / "process",
    HERE / "ledger" / "statistics",
    HERE / "test_simulator.py",
)


class OpensADatabase(AssertionError):
    """A test that stands among those of pure functions asked for a database."""


@cache
def is_engine_free(path: Path) -> bool:
    """Whether the tests of a file are about pure functions alone."""
    return any(path == place or place in path.parents for place in PLACES)


def forbid(monkeypatch: pytest.MonkeyPatch) -> None:
    """From now on no database is opened: not by Django, not past it, and not by a process that is started."""

    def refuse(*_: Any, **__: Any) -> NoReturn:
        raise OpensADatabase("This test is marked engine_free and opens a database; see tests/engine_free.py.")

    monkeypatch.setattr(BaseDatabaseWrapper, "ensure_connection", refuse)
    monkeypatch.setattr(BaseDatabaseWrapper, "connect", refuse)
    monkeypatch.setattr(sqlite3, "connect", refuse)
    monkeypatch.setattr(psycopg, "connect", refuse)
    monkeypatch.setattr(psycopg.Connection, "connect", refuse)
    # The program reads no such address, so a command of its own that a test starts ends at once.
    monkeypatch.setenv("DATABASE_URL", "none://engine-free")
