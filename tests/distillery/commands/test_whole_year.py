"""The demonstration's year, loaded by `demo` to its end: it verifies, and holds its two troubles and nothing else."""

from __future__ import annotations

import json
from typing import Any

import pytest

from tests.running_site import run
from tests.simulator.year import months, work_year
from tests.simulator.year_trial import mark_found


@pytest.fixture(scope="module")
def year_database(databases: Any, migrated_original: str) -> str:
    """DATABASE_URL of a database that holds the year."""
    url: str = databases.copy_of(migrated_original)
    done = run(url, "demo", "--no-serve")
    assert done.returncode == 0, done.stdout + done.stderr
    assert "month 12 of 12" in done.stdout
    return url


def test_a_second_time_it_is_there_already(year_database: str) -> None:
    assert "in the database already" in run(year_database, "demo", "--no-serve").stdout


def test_its_books_verify(year_database: str) -> None:
    proved = run(year_database, "verify_ledger")
    assert proved.returncode == 0, proved.stdout + proved.stderr


def test_its_findings_are_its_two_troubles(year_database: str) -> None:
    """What was planted is in the truth of the simulator, which the program never reads."""
    found = {
        month: json.loads(run(year_database, "findings", "--period", month, "--json").stdout) for month in months()
    }
    tried = mark_found(0, work_year()[1]["planted"], found)
    assert tried.signalled_in
    assert tried.short_found
    assert tried.false == []
