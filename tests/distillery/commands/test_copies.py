"""`backup` and `restore`: a copy taken in the middle of work comes back whole, and only a sound one comes back."""

from __future__ import annotations

import os
import sqlite3
import stat
from contextlib import closing
from pathlib import Path

import pytest

from tests.running_site import Databases, execute, run, sqlite_file


@pytest.fixture(scope="module")
def copy(demo_database: str, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the demonstration, alone in its folder. To read only."""
    file = tmp_path_factory.mktemp("copies") / "site.copy"
    taken = run(demo_database, "backup", file)
    assert taken.returncode == 0, taken.stderr
    return file


@pytest.fixture
def file_of_a_site(databases: Databases, tmp_path: Path, request: pytest.FixtureRequest) -> str:
    """DATABASE_URL of a new site on SQLite, whatever the engine under test."""
    if databases.on_sqlite:
        return str(request.getfixturevalue("migrated_database"))
    url = f"sqlite:///{tmp_path / 'site.sqlite3'}"
    assert run(url, "migrate", "--verbosity", "0").returncode == 0
    return url


def answers(url: str) -> list[str]:
    """What the commands that read the books say, all in one process."""
    asked = (("month_account", "2027-03", "--json"), ("findings", "--json"), ("verify_ledger",))
    script = f"from django.core.management import call_command\nfor one in {asked}:\n    call_command(*one)"
    said = run(url, "shell", "--verbosity=0", "--no-imports", "-c", script)
    assert said.returncode == 0, said.stderr
    assert "last seal" in said.stdout.lower()
    # Putting a copy back is itself written down and sealed, so the last seal is another.
    return _without_last_seal(said.stdout)


def test_a_copy_comes_back_whole_and_proved(demo_database: str, new_database: str, copy: Path) -> None:
    back = run(new_database, "restore", copy)
    assert back.returncode == 0, back.stdout + back.stderr
    assert answers(new_database) == answers(demo_database)


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


def test_what_is_no_sound_copy_is_refused_and_the_place_stays_empty(
    copy: Path, new_database: str, tmp_path: Path
) -> None:
    no_copy, cut_short = tmp_path / "no.copy", tmp_path / "cut-short.copy"
    no_copy.write_text("gauges of Monday", encoding="utf-8")
    cut_short.write_bytes(copy.read_bytes()[: copy.stat().st_size // 2])
    for unsound in (tmp_path / "missing.copy", no_copy, cut_short):
        refused = run(new_database, "restore", unsound)
        assert refused.returncode == 1
        assert refused.stderr.startswith("CommandError: ")
        assert "is not empty" not in refused.stderr
        assert "is back in the database" not in refused.stdout
    # Still empty, so a sound copy may follow.
    assert run(new_database, "restore", copy).returncode == 0


def test_a_copy_of_a_ledger_that_was_tampered_with_is_named_as_such(
    databases: Databases, demo_database: str, tmp_path: Path
) -> None:
    tampered, place, later = databases.copy_of(demo_database), databases.new(), tmp_path / "later.copy"
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


def test_a_copy_is_taken_while_somebody_writes(file_of_a_site: str, tmp_path: Path) -> None:
    # There the copy and the writer meet in one file.
    url = file_of_a_site
    copy = tmp_path / "busy.copy"
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


def nothing_in(place: Path) -> bool:
    """Whether a copy was refused before anything was put into its place."""
    with closing(sqlite3.connect(place)) as there:
        return there.execute("SELECT count(*) FROM sqlite_master").fetchone() == (0,)


def test_a_copy_of_a_newer_program_is_refused(file_of_a_site: str, tmp_path: Path) -> None:
    url = file_of_a_site
    execute(url, "INSERT INTO django_migrations (app, name, applied) VALUES ('ledger', '9999_later', '2027-01-01')")
    copy = tmp_path / "newer.copy"
    assert run(url, "backup", copy).returncode == 1
    place = tmp_path / "place.sqlite3"
    refused = run(f"sqlite:///{place}", "restore", sqlite_file(url))
    assert refused.returncode == 1
    assert "9999_later" in refused.stderr
    assert nothing_in(place)


def test_a_copy_with_a_row_that_points_at_nothing_is_refused(file_of_a_site: str, tmp_path: Path) -> None:
    url, place = file_of_a_site, tmp_path / "place.sqlite3"
    execute(url, "INSERT INTO people_person_groups (person_id, group_id) VALUES (987654, 987654)")
    refused = run(f"sqlite:///{place}", "restore", sqlite_file(url))
    assert refused.returncode == 1
    assert "is damaged: a row of people_person_groups points at nothing. Use an older copy." in refused.stderr
    assert nothing_in(place)


def _without_last_seal(said: str) -> list[str]:
    return [line for line in said.splitlines() if not line.startswith("Last seal of the books")]
