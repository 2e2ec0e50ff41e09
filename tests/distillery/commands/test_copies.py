"""`backup` and `restore`: a copy taken in the middle of work comes back whole, and only a sound one comes back."""

from __future__ import annotations

import os
import sqlite3
import stat
from contextlib import closing
from pathlib import Path

import pytest

from tests.running_site import Databases, execute, run, sqlite_file


@pytest.fixture
def copy(demo_database: str, tmp_path: Path) -> Path:
    file = tmp_path / "site.copy"
    taken = run(demo_database, "backup", file)
    assert taken.returncode == 0, taken.stderr
    return file


def test_a_copy_comes_back_whole_and_proved(demo_database: str, new_database: str, copy: Path) -> None:
    back = run(new_database, "restore", copy)
    assert back.returncode == 0, back.stdout + back.stderr
    for question in (("month_account", "2027-03", "--json"), ("findings", "--json"), ("verify_ledger",)):
        there, here = run(demo_database, *question), run(new_database, *question)
        assert here.returncode == 0, here.stderr
        # Putting a copy back is itself written down and sealed, so the last seal is another.
        assert _without_last_seal(here.stdout) == _without_last_seal(there.stdout)


@pytest.mark.skipif(os.name == "nt", reason="Windows keeps rights in another way")
def test_a_copy_is_its_owners_alone(copy: Path) -> None:
    assert stat.S_IMODE(copy.stat().st_mode) == 0o600


def test_a_copy_is_never_written_over(demo_database: str, copy: Path) -> None:
    before = copy.read_bytes()
    refused = run(demo_database, "backup", copy)
    assert refused.returncode == 1
    assert "is there already" in refused.stderr
    assert copy.read_bytes() == before
    assert list(copy.parent.iterdir()) == [copy]


def test_a_folder_that_is_not_there_is_named(demo_database: str, tmp_path: Path) -> None:
    refused = run(demo_database, "backup", tmp_path / "nowhere" / "site.copy")
    assert refused.returncode == 1
    assert "There is no folder" in refused.stderr


def test_a_database_in_use_is_never_restored_over(demo_database: str, copy: Path) -> None:
    refused = run(demo_database, "restore", copy)
    assert refused.returncode == 1
    assert "is not empty" in refused.stderr


@pytest.mark.parametrize("damage", ["missing", "not a copy", "cut short"])
def test_what_is_no_sound_copy_is_refused_and_the_place_stays_empty(
    damage: str, copy: Path, new_database: str, tmp_path: Path
) -> None:
    unsound = tmp_path / "unsound.copy"
    if damage == "not a copy":
        unsound.write_text("gauges of Monday", encoding="utf-8")
    elif damage == "cut short":
        unsound.write_bytes(copy.read_bytes()[: copy.stat().st_size // 2])
    refused = run(new_database, "restore", unsound)
    assert refused.returncode == 1
    assert refused.stderr.startswith("CommandError: ")
    assert "is back in the database" not in refused.stdout
    # Still empty, so a sound copy may follow.
    assert run(new_database, "restore", copy).returncode == 0


def test_a_copy_of_a_ledger_that_was_tampered_with_is_named_as_such(
    databases: Databases, copy: Path, tmp_path: Path
) -> None:
    tampered, place, later = databases.new(), databases.new(), tmp_path / "later.copy"
    assert run(tampered, "restore", copy).returncode == 0
    on_table = "" if databases.on_sqlite else " ON ledger_leg"
    execute(
        tampered,
        f"DROP TRIGGER ledger_leg_no_update{on_table}",
        "UPDATE ledger_leg SET pure_ul = pure_ul + 1000000 WHERE id = (SELECT min(id) FROM ledger_leg)",
    )
    assert run(tampered, "backup", later).returncode == 0
    proved = run(place, "restore", later)
    assert proved.returncode == 1
    assert "First broken place" in proved.stderr


def test_a_copy_is_taken_while_somebody_writes(tmp_path: Path) -> None:
    # Of SQLite whatever the engine under test: there the copy and the writer meet in one file.
    url = f"sqlite:///{tmp_path / 'busy.sqlite3'}"
    copy = tmp_path / "busy.copy"
    assert run(url, "migrate", "--verbosity", "0").returncode == 0
    with closing(sqlite3.connect(sqlite_file(url), isolation_level=None)) as writer:
        writer.execute("BEGIN IMMEDIATE")
        writer.execute("INSERT INTO rules_losscause (name, from_day, source) VALUES ('unfinished', '2027-01-01', 'x')")
        taken = run(url, "backup", copy)
        writer.execute("COMMIT")
    assert taken.returncode == 0, taken.stderr
    with closing(sqlite3.connect(copy)) as kept:
        assert kept.execute("SELECT count(*) FROM rules_losscause WHERE name = 'unfinished'").fetchone() == (0,)
        assert kept.execute("SELECT count(*) FROM rules_losscause").fetchone()[0] > 0


@pytest.mark.parametrize(
    ("make", "sentence"),
    [
        ("CREATE TABLE gauges (litres INTEGER)", "cannot be read as a copy"),
        ("CREATE TABLE django_migrations (app TEXT, name TEXT)", "has no ledger in it"),
    ],
)
def test_the_database_of_another_program_is_refused(make: str, sentence: str, tmp_path: Path) -> None:
    other = tmp_path / "other.sqlite3"
    execute(f"sqlite:///{other}", make)
    refused = run(f"sqlite:///{tmp_path / 'place.sqlite3'}", "restore", other)
    assert refused.returncode == 1
    assert sentence in refused.stderr


def test_a_copy_of_a_newer_program_is_refused(tmp_path: Path) -> None:
    url = f"sqlite:///{tmp_path / 'newer.sqlite3'}"
    assert run(url, "migrate", "--verbosity", "0").returncode == 0
    execute(url, "INSERT INTO django_migrations (app, name, applied) VALUES ('ledger', '9999_later', '2027-01-01')")
    copy = tmp_path / "newer.copy"
    assert run(url, "backup", copy).returncode == 1
    refused = run(f"sqlite:///{tmp_path / 'place.sqlite3'}", "restore", sqlite_file(url))
    assert refused.returncode == 1
    assert "9999_later" in refused.stderr


def _without_last_seal(said: str) -> list[str]:
    return [line for line in said.splitlines() if not line.startswith("Last seal of the books")]
