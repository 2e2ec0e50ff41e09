"""A small site of each schema that was ever released is taken up by today's program, and its books are proved."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from tests.running_site import run
from tests.schemas import FOLDER, put_back

pytestmark = [pytest.mark.sqlite, pytest.mark.exhaustive]
SITES = sorted(file.name for file in FOLDER.glob("*.sql.xz"))
LARGEST_BYTES = 200_000
# The last seal in each, as the program of that day gave it.
SEALS = {"2026-11.sql.xz": "45a88a268a1d0ef2"}


def test_there_is_one_and_each_is_small() -> None:
    assert SEALS.keys() == set(SITES)
    assert all((FOLDER / name).stat().st_size < LARGEST_BYTES for name in SITES)


@pytest.mark.parametrize("name", SITES)
def test_a_site_of_that_schema_is_brought_to_today_and_proved(name: str, tmp_path: Path) -> None:
    file = tmp_path / "site.sqlite3"
    put_back(name, file)
    url = f"sqlite:///{file}"
    migrated = run(url, "migrate", "--verbosity", "0")
    assert migrated.returncode == 0, migrated.stderr
    proved = run(url, "verify_ledger", "--expect", SEALS[name])
    assert proved.returncode == 0, proved.stdout + proved.stderr
    assert "Read 12 movements, 40 legs" in proved.stdout
    assert run(url, "check").returncode == 0
    with closing(sqlite3.connect(file)) as database:
        assert database.execute("SELECT count(*) FROM batches_record").fetchone()[0] > 10
