"""The copies themselves: taken in both places, put back in a drill, and before the books take another form."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path

import pytest

from tests.running_site import Databases, execute, run

BEFORE = """
from distillery.management.demonstration import invite
invite()
"""
COPY = """
from distillery.copies import keeper
keeper.FROM_HOUR = 0
keeper.CopiesKeeper(warn=print).look()
keeper.CopiesKeeper(warn=print).look()
"""
DRILL = """
from distillery.jobs.asking import ask
from distillery.jobs.working import work_off
from distillery.copies.drill import DRILL_CODE
job = ask(DRILL_CODE)
for ended in work_off():
    print(ended.state, ended.fault)
"""


UPGRADE = """
from django.db import connection
from distillery.copies.upgrading import bring_up_to_date
bring_up_to_date(connection, print)
"""


def shell(url: str, script: str, **settings: str) -> subprocess.CompletedProcess[str]:
    return run(url, "shell", "--verbosity=0", "--no-imports", "-c", script, **settings)


def test_a_copy_a_day_goes_to_both_places_and_comes_back_in_a_drill(migrated_database: str, tmp_path: Path) -> None:
    first, second = tmp_path / "first", tmp_path / "second"
    second.mkdir()
    places = {"COPIES_FOLDER": str(first), "COPIES_SECOND_FOLDER": str(second)}
    done = shell(migrated_database, BEFORE + COPY + DRILL, **places)
    assert done.returncode == 0, done.stdout + done.stderr
    # Looked twice, taken once.
    (copy,) = first.glob("gaugebook-*")
    assert (second / copy.name).read_bytes() == copy.read_bytes()
    said = json.loads((first / "drills.jsonl").read_text(encoding="utf-8"))
    assert said["held"] is True, done.stdout + said["said"]
    assert "stands in the live books" in said["said"]
    assert (second / "drills.jsonl").exists()
    # Nothing is left of where it was tried.
    assert {one.name for one in first.iterdir()} == {copy.name, "drills.jsonl"}


@pytest.mark.sqlite
def test_a_drill_with_a_damaged_copy_says_so_and_a_missing_second_place_too(
    migrated_database: str, tmp_path: Path
) -> None:
    first = tmp_path / "first"
    places = {"COPIES_FOLDER": str(first), "COPIES_SECOND_FOLDER": str(tmp_path / "stick")}
    done = shell(migrated_database, BEFORE + COPY, **places)
    assert "There is no folder" in done.stdout
    (copy,) = first.glob("gaugebook-*")
    copy.write_bytes(copy.read_bytes()[: copy.stat().st_size // 2])
    done = shell(migrated_database, DRILL, **places)
    assert "failed" in done.stdout
    said = json.loads((first / "drills.jsonl").read_text(encoding="utf-8"))
    assert said["held"] is False


def test_another_form_of_the_books_is_tried_on_a_copy_first(databases: Databases, migrated_database: str) -> None:
    url = migrated_database
    folder = databases.folder / "before-upgrade"
    assert shell(url, BEFORE).returncode == 0
    # As before a migration that cannot be done, since its table is there already; then as before one that can.
    execute(url, "DELETE FROM django_migrations WHERE app = 'sessions'")
    refused = run(url, "serve", "--port", "0", COPIES_FOLDER=str(folder / "refused"))
    assert refused.returncode == 1
    assert "was tried on a copy and did not hold" in refused.stderr
    assert "The books are as they were" in refused.stderr
    assert len(list((folder / "refused").glob("gaugebook-*"))) == 1
    execute(url, "DROP TABLE django_session")
    upgraded = run(url, "shell", "--verbosity=0", "--no-imports", "-c", UPGRADE, COPIES_FOLDER=str(folder / "done"))
    assert upgraded.returncode == 0, upgraded.stdout + upgraded.stderr
    assert "It held on the copy" in upgraded.stdout
    assert len(list((folder / "done").glob("gaugebook-*"))) == 1
    assert run(url, "migrate", "--check").returncode == 0
