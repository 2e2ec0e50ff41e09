"""A closed year archived: it opens and proves itself without the program; an open month keeps it from being made."""

from __future__ import annotations

import csv
import hashlib
import subprocess
import sys
from datetime import date
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from pypdf import PdfReader

pytestmark = pytest.mark.django_db


@pytest.fixture
def _a_year_later(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("batches.pages.bundle.year.books_today", lambda: date(2028, 1, 3))


@pytest.mark.usefixtures("small_books", "_a_year_later")
def test_a_closed_year_is_read_and_proved_without_the_program(tmp_path: Path) -> None:
    folder, said = tmp_path / "2027", StringIO()
    call_command("archive_year", "2027", str(folder), stdout=said)
    assert "Nothing is taken out of the books" in said.getvalue()
    listed = dict(
        line.split("  ", 1)[::-1] for line in (folder / "digests.sha256").read_text(encoding="utf-8").splitlines()
    )
    there = {path.relative_to(folder).as_posix(): path for path in folder.rglob("*") if path.is_file()}
    assert listed.keys() == there.keys() - {"digests.sha256"}
    assert all(hashlib.sha256(there[name].read_bytes()).hexdigest() == digest for name, digest in listed.items())
    # Paper, tables and the verifier, by Python alone.
    assert "TR0001" in "".join(page.extract_text() for page in PdfReader(folder / "bundle.pdf").pages)
    tables = [name for name in listed if name.startswith("documents/") and name.endswith(".csv")]
    assert len(tables) > 5
    with there["movements.csv"].open(encoding="utf-8", newline="") as file:
        assert len(list(csv.reader(file))) > 10
    proved = subprocess.run(
        [sys.executable, "-I", "-S", str(folder / "verify_export.py"), str(folder)],
        cwd=folder,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert proved.returncode == 0, proved.stdout + proved.stderr


@pytest.mark.usefixtures("loaded_month")
def test_an_open_month_is_named_and_nothing_is_written(tmp_path: Path, request: pytest.FixtureRequest) -> None:
    with pytest.raises(CommandError, match="2027 is not over by the clock of the books"):
        call_command("archive_year", "2027", str(tmp_path / "2027"))
    request.getfixturevalue("_a_year_later")
    with pytest.raises(CommandError, match="March 2027 is not closed"):
        call_command("archive_year", "2027", str(tmp_path / "2027"))
    with pytest.raises(CommandError, match="The books have nothing in 2019"):
        call_command("archive_year", "2019", str(tmp_path / "2019"))
    with pytest.raises(CommandError, match="is not a year of any books"):
        call_command("archive_year", "27", str(tmp_path / "27"))
    assert list(tmp_path.iterdir()) == []
