"""The commands that hand a seal out and take one back: backup, restore, verify_ledger, export. On both engines."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from tests.running_site import Databases, run


def proof(database: str, *more: str | Path) -> tuple[int, dict]:
    done = run(database, "verify_ledger", "--json", *more)
    return done.returncode, json.loads(done.stdout)


@pytest.mark.long
def test_an_older_copy_put_back_lacks_what_paper_holds(
    demo_database: str, databases: Databases, tmp_path: Path
) -> None:
    database = databases.copy_of(demo_database)
    before = proof(database)[1]
    taken = run(database, "backup", tmp_path)
    assert taken.returncode == 0, taken.stderr
    [copy] = tmp_path.iterdir()
    assert f"seal-{before['books_seal_number']}-{before['books_seal'][:8]}" in copy.name
    _write_something(database)
    noted = proof(database)[1]
    assert noted["books_seal_number"] == before["books_seal_number"] + 1
    older = databases.new()
    back = run(older, "restore", copy)
    assert back.returncode == 0, back.stderr
    assert f"Its last seal is {before['books_seal_number']:,}".replace(",", "") in back.stdout.replace(",", "")
    status, said = proof(older, "--expect", noted["books_seal"])
    assert (status, said["expected"]["stands"]) == (1, False)
    assert "older copy" in said["broken"][0]
    assert proof(older, "--expect", before["books_seal"][:12])[0] == 0
    file = tmp_path / "elsewhere.txt"
    file.write_text(f"2026-11-29T10:00:00.000000Z {noted['books_seal_number']} {noted['books_seal']}\n")
    status, said = proof(older, "--seals", file)
    assert status == 1
    assert "is another in these books" in said["broken"][0], "putting back is itself written and sealed"
    assert proof(database, "--seals", file)[0] == 0


def test_what_cannot_be_a_seal_is_refused_in_a_sentence(demo_database: str) -> None:
    refused = run(demo_database, "verify_ledger", "--expect", "seal?")
    assert (refused.returncode, "Traceback" in refused.stderr) == (1, False)
    assert "0 to 9 and a to f" in refused.stderr
    gone = run(demo_database, "verify_ledger", "--seals", "/nowhere/seals.txt")
    assert (gone.returncode, "cannot be read" in gone.stderr) == (1, True)


def test_an_outsider_proves_a_seal_of_the_books_from_an_export(demo_database: str, tmp_path: Path) -> None:
    folder = tmp_path / "export"
    assert run(demo_database, "export_ledger", folder).returncode == 0
    seal = proof(demo_database)[1]["books_seal"]
    verified = _outside(folder, seal[:16])
    assert verified.returncode == 0, verified.stdout
    assert f"{seal[:16]} is the seal of the books" in verified.stdout
    trail = folder / "trail.jsonl"
    lines = trail.read_text(encoding="utf-8").splitlines(keepends=True)
    lines[40] = lines[40].replace("written", "removed").replace("taken in", "removed")
    trail.write_text("".join(lines), encoding="utf-8")
    broken = _outside(folder)
    assert (broken.returncode, "the trail up to it is not what was sealed" in broken.stdout) == (1, True)


def _outside(folder: Path, *more: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, str(folder / "verify_export.py"), str(folder), *more]
    return subprocess.run(command, capture_output=True, text=True, check=False, timeout=120)


def _write_something(database: str) -> None:
    done = run(database, "person", "brodie", "--last-name", "Catterwell-Orr")
    assert done.returncode == 0, done.stderr
