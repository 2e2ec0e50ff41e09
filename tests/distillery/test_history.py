"""A database that other migrations made is refused by whatever opens it, in one sentence that says what to do."""

from __future__ import annotations

import os
import subprocess
from pathlib import Path

import pytest

from distillery.database.history import refusal
from tests.running_site import Databases, execute, run, sqlite_file

EARLIER = "UPDATE django_migrations SET name = '0002_figures' WHERE app = 'rules' AND name = '0002_seeds'"
COMMANDS = (
    ("migrate",),
    ("serve", "--port", "0"),
    ("verify_ledger",),
    ("load_month", "fixtures/sample-month"),
    ("backup", "nowhere.copy"),
    ("check", "--database", "default"),
    ("restore_triggers",),
    ("demo",),
)


@pytest.fixture(scope="module")
def earlier(databases: Databases, migrated_original: str) -> str:
    url = databases.copy_of(migrated_original)
    execute(url, EARLIER)
    return url


@pytest.mark.parametrize("command", COMMANDS, ids=[command[0] for command in COMMANDS])
def test_every_command_refuses_it_in_one_sentence(command: tuple[str, ...], earlier: str) -> None:
    refused = run(earlier, *command)
    assert refused.returncode == 1
    assert len(refused.stderr.strip().splitlines()) == 1
    assert "earlier form of this program" in refused.stderr
    assert "rules 0002_figures" in refused.stderr
    assert "load the months into it anew with `load_month`" in refused.stderr


def test_its_copy_is_not_put_back(earlier: str, databases: Databases, tmp_path: Path) -> None:
    copy = tmp_path / "earlier.copy"
    if databases.on_sqlite:
        execute(earlier, f"VACUUM INTO '{copy}'")
        assert sqlite_file(earlier).is_file()
    else:
        subprocess.run(["pg_dump", "--format=custom", f"--file={copy}", earlier], env=os.environ, check=True)
    place = databases.new()
    refused = run(place, "restore", copy)
    assert refused.returncode == 1
    assert "earlier form of this program" in refused.stderr
    assert "Traceback" not in refused.stderr
    # Nothing was put there, so the place can be used.
    assert run(place, "migrate", "--verbosity", "0").returncode == 0


@pytest.mark.django_db
def test_this_programs_own_and_other_programs_migrations_are_taken() -> None:
    from django.db.migrations.loader import MigrationLoader

    own = set(MigrationLoader(None).disk_migrations)
    assert refusal("It", own) == refusal("It", own | {("elsewhere", "0001_initial")}) == ""
    assert "newer version" in refusal("It", own | {("ledger", "9999_later")})
    # A database that is half brought up to date is not another's.
    assert refusal("It", own - {("rules", "0002_seeds")}) == ""


@pytest.mark.django_db
def test_a_database_from_before_movements_said_what_they_are_judged_against_is_refused() -> None:
    from django.db.migrations.loader import MigrationLoader

    own, now = set(MigrationLoader(None).disk_migrations), ("ledger", "0002_first_seal_of_the_books")
    assert now in own
    said = refusal("The database", own - {now} | {("ledger", "0002_first_seal")})
    assert said.startswith("The database was made by an earlier form of this program, whose tables are not carried on")
    assert "(it has ledger 0002_first_seal)" in said
