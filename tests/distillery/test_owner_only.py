"""Database, copies, key and whatever else the site keeps are readable by their owner alone, from the start."""

from __future__ import annotations

import os
import stat
from pathlib import Path

import pytest

from distillery.database.owner_only import close_to_others, open_to_others, rights
from tests.running_site import run_alone

pytestmark = pytest.mark.skipif(os.name == "nt", reason="Windows keeps rights in another way")


def mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


def test_what_was_open_to_others_is_closed(tmp_path: Path) -> None:
    folder, database = tmp_path / ".site", tmp_path / "gauges.sqlite3"
    folder.mkdir(mode=0o755)
    files = [folder / "secret-key", folder / "serve.log", database, Path(f"{database}-wal")]
    for file in files:
        file.write_text("x", encoding="ascii")
        file.chmod(0o664)
    mask = os.umask(0o022)
    try:
        close_to_others(folder, str(database))
        made = tmp_path / "made-later"
        made.write_text("x", encoding="ascii")
    finally:
        os.umask(mask)
    assert mode(folder) == 0o700
    assert {mode(file) for file in files} == {0o600}
    assert mode(made) == 0o600


def test_a_link_is_not_followed_to_somebody_elses_file(tmp_path: Path) -> None:
    other = tmp_path / "other"
    other.write_text("x", encoding="ascii")
    other.chmod(0o644)
    folder = tmp_path / ".site"
    folder.mkdir(mode=0o700)
    (folder / "link").symlink_to(other)
    close_to_others(folder, "")
    assert mode(other) == 0o644
    assert list(open_to_others([folder / "link"])) == []


def test_what_cannot_be_closed_stops_the_site(tmp_path: Path, settings: object) -> None:
    folder = tmp_path / ".site"
    folder.mkdir(mode=0o700)
    (folder / "key").write_text("x", encoding="ascii")
    (folder / "key").chmod(0o644)
    settings.SITE_DIR = folder  # type: ignore[attr-defined]
    (error,) = rights()
    assert error.id == "distillery.E010"
    assert f"{folder / 'key'} can be read by others" in error.msg
    (folder / "key").chmod(0o600)
    assert rights() == []


def test_a_new_database_is_its_owners_alone(tmp_path: Path) -> None:
    # Of SQLite whatever the engine under test: a server keeps its own files.
    file = tmp_path / "new.sqlite3"
    mask = os.umask(0o000)
    try:
        assert run_alone(f"sqlite:///{file}", "migrate", "--verbosity", "0").returncode == 0
    finally:
        os.umask(mask)
    assert {mode(path) for path in tmp_path.iterdir()} == {0o600}
