"""Long work in processes of its own: two that start together, one that is killed, one that `serve` takes up.

Each process is killed by its id, with signal 9, and each stops by itself.
"""

from __future__ import annotations

import subprocess
import sys
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from tests.faults.counting import KIND
from tests.jobs_behind import LONGEST_S, NOW, Jobs
from tests.running_site import ROOT, environment, run, serving


@pytest.fixture
def jobs(migrated_database: str) -> Jobs:
    return Jobs(migrated_database)


@contextmanager
def counting(url: str) -> Iterator[subprocess.Popen[str]]:
    process = subprocess.Popen(
        [sys.executable, "-m", "tests.faults.counting"],
        cwd=ROOT,
        env=environment(url, DJANGO_SETTINGS_MODULE="distillery.settings"),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    try:
        yield process
    finally:
        process.kill()
        process.wait()


def result_of(row: dict[str, Any]) -> Path:
    from distillery.jobs.files import folder

    return folder() / row["file"]


def test_two_that_start_together_do_no_job_twice(jobs: Jobs, tmp_path: Path) -> None:
    beside = tmp_path / "beside"
    numbers = [jobs.ask(KIND, {"most": 10 + place, "beside": str(beside)}) for place in range(4)]
    with counting(jobs.url) as one, counting(jobs.url) as other:
        said = one.communicate(timeout=LONGEST_S)[0] + other.communicate(timeout=LONGEST_S)[0]
        assert (one.returncode, other.returncode) == (0, 0), said
    rows = [jobs.row(number) for number in numbers]
    assert [(row["state"], row["run"], row["broken_off"]) for row in rows] == [("done", 1, 0)] * 4
    counted = [int(line.split()[1]) for line in beside.read_text(encoding="utf-8").splitlines()]
    # One after another, and none of them twice: not even their lines are mixed.
    assert counted == [number for place in range(4) for number in range(1, 11 + place)]


@pytest.mark.long
def test_one_that_is_killed_is_taken_up_and_ends_rightly(jobs: Jobs, tmp_path: Path) -> None:
    beside = tmp_path / "beside"
    number = jobs.ask(KIND, {"most": 30, "beside": str(beside)})
    for kills in range(1, 4):
        with counting(jobs.url) as process:
            row = jobs.wait(number, lambda row, kills=kills: row["run"] == kills and row["done"] > 0)
            assert row["process"] == process.pid
            process.kill()
            process.wait()
        assert jobs.row(number)["state"] == "going on"
    with counting(jobs.url) as process:
        said = process.communicate(timeout=LONGEST_S)[0]
        assert process.returncode == 0, said
    row = jobs.row(number)
    assert (row["state"], row["run"], row["broken_off"]) == ("done", 4, 3)
    assert result_of(row).read_text(encoding="utf-8") == "counted to 30"
    assert not list(result_of(row).parent.glob(f"{row['file']}-*"))


def test_one_that_is_given_up_ends_within_a_moment(jobs: Jobs, tmp_path: Path) -> None:
    number = jobs.ask(KIND, {"most": 1000, "beside": str(tmp_path / "beside")})
    with counting(jobs.url) as process:
        jobs.wait(number, lambda row: row["done"] > 0)
        jobs.tell("UPDATE jobs_job SET state = 'given up' WHERE id = %s RETURNING id", [number])
        said = process.communicate(timeout=LONGEST_S)[0]
        assert process.returncode == 0, said
    row = jobs.row(number)
    assert (row["state"], row["file_name"]) == ("given up", "")
    assert row["done"] < 1000


@pytest.mark.long
def test_an_export_left_by_a_dead_process_is_made_once_the_site_is_served(demo_database: str, databases) -> None:
    jobs = Jobs(databases.copy_of(demo_database))
    [(last, seal)] = jobs.tell("SELECT last_number, last_seal FROM ledger_head WHERE id = %s", [1])
    gone = subprocess.Popen([sys.executable, "-c", ""])
    gone.wait()
    from distillery.jobs.claiming import this_machine

    left = {"state": "going on", "run": 1, "process": gone.pid, "machine": this_machine(), "alive_at": NOW}
    number = jobs.ask("export", {"movements": last, "seal": seal}, **left)
    with serving(jobs.url):
        row = jobs.wait(number, lambda row: row["state"] != "going on")
    assert (row["state"], row["run"], row["broken_off"], row["fault"]) == ("done", 2, 1, "")
    assert row["file_name"] == f"ledger-{last}-{seal[:8]}.zip"
    with zipfile.ZipFile(result_of(row)) as archive:
        assert archive.testzip() is None
        assert len(archive.read(f"ledger-{last}-{seal[:8]}/movements.jsonl").splitlines()) == last


def test_the_command_says_what_it_did(jobs: Jobs) -> None:
    number = jobs.ask("export", {"movements": 12, "seal": "0" * 64})
    done = run(jobs.url, "work", "--once")
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith(f"Job {number}, Export of the ledger: failed, ")
    assert "These books have no movement 12 with the seal it was asked for." in done.stdout
    assert run(jobs.url, "work").stdout == "No long work waits, or another process does it.\n"
