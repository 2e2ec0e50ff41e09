"""Tests that go through everything there is, or through long random runs: `.ci/run` runs them on SQLite, those of the
triggers, which each engine has of its own, on PostgreSQL too. The default run leaves them out, so that it stays one a
person waits for.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Final

HERE: Final = Path(__file__).resolve().parent
OF_TRIGGERS: Final = (
    # Every value of every table changed behind the books' back, and every migration.
    HERE / "batches" / "test_tampering_at_large.py",
    HERE / "batches" / "test_tampering_with_records.py",
    HERE / "ledger" / "test_guards_through_migrations.py",
    HERE / "ledger" / "test_tampering.py",
)
PLACES: Final = (
    *OF_TRIGGERS,
    # Long random runs beside a plain list of what should be.
    HERE / "batches" / "test_closing_machine.py",
    HERE / "batches" / "test_kept_comparison.py",
    HERE / "batches" / "stores" / "test_silo_draws.py",
    HERE / "batches" / "stores" / "test_stock_is_conserved.py",
    HERE / "ledger" / "test_state_machine.py",
    HERE / "ledger" / "test_closing_keeps_what_it_finds.py",
    # The demonstration's whole year, loaded as `demo` does.
    HERE / "distillery" / "commands" / "test_whole_year.py",
    # Every page, list and process, one after another.
    HERE / "acceptance" / "test_one_answer_for_each_figure.py",
    HERE / "acceptance" / "test_queries_do_not_grow.py",
    HERE / "acceptance" / "test_queries_do_not_grow_with_casks.py",
    HERE / "distillery" / "commands" / "test_full_disk.py",
    HERE / "distillery" / "jobs" / "test_processes.py",
    HERE / "ledger" / "test_proof_in_processes.py",
)


@cache
def is_exhaustive(path: Path) -> bool:
    """Whether the tests of a file are left to the runs that have the time."""
    return path in PLACES
