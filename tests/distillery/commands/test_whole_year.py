"""The demonstration's year, loaded by `demo` to its end: it verifies, and holds its two troubles and nothing else."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from tests.running_site import environment, run
from tests.simulator.judging import rows_of
from tests.simulator.year import months, work_year
from tests.simulator.year_trial import mark_found

# Some minutes: `pytest -m slow`.
pytestmark = pytest.mark.slow

YEAR = Path(__file__).resolve().parents[3] / "fixtures" / "harrowmere-year"
LOT = "M004"


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


@pytest.fixture(scope="module")
def traces(year_database: str) -> dict[str, Any]:
    """What the traces of every bottling come to, and where the fourth lot of malt went."""
    done = subprocess.run(
        [sys.executable, "-m", "tests.simulator.year_traces", LOT],
        env=environment(year_database),
        capture_output=True,
        text=True,
        timeout=300,
        check=True,
    )
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def test_every_bottling_is_traced_whole(traces: dict[str, Any]) -> None:
    """The shares of each kind are all of it, and its alcohol is that of the ledger to the microlitre."""
    assert len(traces["bottlings"]) > 20
    for number, one in traces["bottlings"].items():
        assert one["back"], number
        assert one["forward"], number
        for kind, share in (one["back"] | one["forward"]).items():
            assert share == pytest.approx(1.0, abs=1e-9), (number, kind)
        assert one["followed_ul"] == one["passed_ul"] == one["gave_ul"], number


def test_a_lot_of_malt_leads_to_its_casks_and_bottlings(traces: dict[str, Any]) -> None:
    """It was mashed in spring, filled into casks of the year, and a little of it was bottled as new malt spirit."""
    lot = traces["lot"]
    filled = {row["cask"] for month in months() for row in rows_of(YEAR / month / "log", "cask_fills")}
    assert set(lot["cask"])
    assert set(lot["cask"]) <= filled | {
        row["cask"] for month in months() for row in rows_of(YEAR / month / "log", "re_rackings")
    }
    new_spirit = {
        row["bottling"]
        for month in months()
        for row in rows_of(YEAR / month / "log", "bottlings")
        if row["product"] == "new malt spirit"
    }
    assert set(lot["bottling"]) == new_spirit
