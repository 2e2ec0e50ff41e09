"""A disk without room: each command ends with a sentence and status 1, and leaves nothing half written behind."""

from __future__ import annotations

import os
import subprocess
from pathlib import Path

import pytest

from tests.running_site import MANAGE, Databases, environment, run, sqlite_file

resource = pytest.importorskip("resource", reason="the system has no bounds on the size of files")

LONGEST_S = 120
ROOM = 64 * 1024


def run_without_room(url: str, *arguments: str | Path, room: int = ROOM) -> subprocess.CompletedProcess[str]:
    """A command that may write files of so many bytes; beyond it the system refuses, as a full disk does."""
    return subprocess.run(
        [*MANAGE, *map(str, arguments)],
        env=environment(url),
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=LONGEST_S,
        check=False,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (room, room)),
    )


def is_one_sentence(ended: subprocess.CompletedProcess[str]) -> bool:
    return ended.returncode == 1 and "Traceback" not in ended.stderr and "othing was" in ended.stderr


def test_a_copy_that_finds_no_room(demo_database: str, tmp_path: Path) -> None:
    ended = run_without_room(demo_database, "backup", tmp_path / "site.copy")
    assert is_one_sentence(ended), ended.stderr
    assert list(tmp_path.iterdir()) == []


def test_what_a_broken_off_copy_left_behind_blocks_nothing(demo_database: str, tmp_path: Path) -> None:
    copy = tmp_path / "site.copy"
    for left in (copy.with_name("site.copy.unfinished"), copy.with_name("site.copy.x1.unfinished")):
        left.write_bytes(b"half")
    taken = run(demo_database, "backup", copy)
    assert taken.returncode == 0, taken.stderr
    assert copy.is_file()


# A server has a disk of its own.
@pytest.mark.sqlite
def test_a_copy_put_back_that_finds_no_room(demo_database: str, tmp_path: Path) -> None:
    url = demo_database
    copy = tmp_path / "site.copy"
    assert run(url, "backup", copy).returncode == 0
    place = tmp_path / "place"
    place.mkdir()
    new = f"sqlite:///{place / 'site.sqlite3'}"
    ended = run_without_room(new, "restore", copy)
    assert is_one_sentence(ended), ended.stderr
    assert [path.name for path in place.iterdir() if "unfinished" in path.name] == []
    assert run(new, "restore", copy).returncode == 0


def test_a_demonstration_that_finds_no_room(tmp_path: Path) -> None:
    ended = run_without_room(f"sqlite:///{tmp_path / 'demo.sqlite3'}", "demo", "--no-serve", room=2_000_000)
    assert is_one_sentence(ended), ended.stderr


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="the system has no device that is always full")
def test_a_printed_account_that_finds_no_room(demo_database: str) -> None:
    ended = run(demo_database, "month_account", "2027-03", "--pdf", "/dev/full")
    assert ended.returncode == 1
    assert ended.stderr.startswith("CommandError: /dev/full cannot be written: No space left on device")
    assert "Traceback" not in ended.stderr


@pytest.mark.parametrize("file", ["/nowhere/account.pdf", ""])
def test_a_printed_account_that_cannot_be_put_there(demo_database: str, file: str, tmp_path: Path) -> None:
    ended = run(demo_database, "month_account", "2027-03", "--pdf", file or str(tmp_path))
    assert ended.returncode == 1
    assert "cannot be written" in ended.stderr
    assert "Traceback" not in ended.stderr


@pytest.mark.parametrize("command", [("serve", "--port", "99999"), ("demo", "--port=-1")])
def test_a_port_or_host_that_is_none(new_database: str, command: tuple[str, ...]) -> None:
    ended = run(new_database, *command)
    assert ended.returncode == 1
    assert "Traceback" not in ended.stderr
    assert ended.stderr.startswith("CommandError: ")


def test_no_migration_is_taken_back_over_what_is_written(demo_database: str, databases: Databases) -> None:
    url = databases.copy_of(demo_database)
    before = run(url, "month_account", "2027-03", "--json").stdout
    for where in ("ledger", "people"):
        refused = run(url, "migrate", where, "zero")
        assert refused.returncode == 1
        assert "movements" in refused.stderr
        assert "nothing was changed" in refused.stderr
    assert run(url, "month_account", "2027-03", "--json").stdout == before
    assert run(url, "verify_ledger").returncode == 0


def test_an_empty_site_may_go_back(migrated_database: str) -> None:
    gone = run(migrated_database, "migrate", "batches", "zero")
    assert gone.returncode == 0, gone.stderr


def test_a_database_that_is_no_database(tmp_path: Path) -> None:
    file = tmp_path / "gauges.sqlite3"
    file.write_text("gauges of Monday\n" * 100, encoding="ascii")
    ended = run(f"sqlite:///{file}", "verify_ledger")
    assert ended.returncode == 1
    assert "Traceback" not in ended.stderr
    assert len(ended.stderr.strip().splitlines()) == 1
    assert sqlite_file(f"sqlite:///{file}").read_text(encoding="ascii").startswith("gauges of Monday")
