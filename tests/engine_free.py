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
    HERE / "distillery" / "charts",
    HERE / "distillery" / "process",
    HERE / "distillery" / "test_listening.py",
    HERE / "distillery" / "printing" / "test_blank_sheet_print.py",
    HERE / "distillery" / "printing" / "test_layout_of_pages.py",
    HERE / "distillery" / "printing" / "test_losses_print.py",
    HERE / "distillery" / "printing" / "test_month_account_print.py",
    HERE / "distillery" / "printing" / "test_page_furniture.py",
    HERE / "distillery" / "printing" / "test_picture_print.py",
    HERE / "distillery" / "printing" / "test_print_digest.py",
    HERE / "distillery" / "printing" / "test_printed_tables.py",
    HERE / "distillery" / "printing" / "test_printed_text.py",
    HERE / "distillery" / "printing" / "test_record_sheet_print.py",
    HERE / "distillery" / "printing" / "test_run_curve.py",
    HERE / "batches" / "running" / "test_cut_off_plan.py",
    HERE / "batches" / "running" / "test_like_batches.py",
    HERE / "batches" / "running" / "test_readings_due.py",
    HERE / "batches" / "running" / "test_states_of_a_run.py",
    HERE / "batches" / "running" / "test_what_is_usual.py",
    HERE / "batches" / "test_typed_text.py",
    HERE / "ledger" / "comparing" / "test_likeness_statistics.py",
    HERE / "ledger" / "comparing" / "test_search_of_a_log.py",
    HERE / "ledger" / "test_line_of_a_movement.py",
    HERE / "ledger" / "test_shared_uncertainty.py",
    HERE / "ledger" / "statistics",
    HERE / "test_simulator.py",
    HERE / "test_year_at_harrowmere.py",
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
