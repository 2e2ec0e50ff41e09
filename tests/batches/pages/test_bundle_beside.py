"""A folder gets its name when all of it is there; what a killed process left goes with the next, and nothing else."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from batches.pages.bundle.beside import made_beside
from tests.running_site import ROOT

HALF_MADE = """
import sys
from pathlib import Path
from batches.pages.bundle.beside import made_beside
with made_beside(Path(sys.argv[1])) as made:
    (made / "bundle.pdf").write_text("half of it")
    print("half made", flush=True)
    sys.stdin.read()
"""


@contextmanager
def half_made(folder: Path) -> Iterator[subprocess.Popen[str]]:
    """A process that is in the middle of making a folder; it is killed at the end at the latest."""
    process = subprocess.Popen(
        [sys.executable, "-c", HALF_MADE, str(folder)],
        cwd=ROOT,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    with process:
        try:
            assert process.stdout is not None
            assert process.stdout.readline() == "half made\n"
            yield process
        finally:
            process.kill()


def names(folder: Path) -> list[str]:
    return sorted(one.name for one in folder.iterdir())


def test_what_a_killed_process_left_is_removed_by_the_next_and_what_one_still_makes_is_not(tmp_path: Path) -> None:
    folder = tmp_path / "visit"
    with half_made(folder) as process:
        [left] = names(tmp_path)
        assert left.startswith(".visit-")
        with made_beside(folder) as made:
            (made / "bundle.pdf").write_text("all of it")
            assert left in names(tmp_path), "a process holds it"
        assert names(tmp_path) == [left, "visit"]
        process.kill()
        process.wait()
        assert names(tmp_path) == [left, "visit"], "killed, it removes nothing itself"
        with made_beside(tmp_path / "another"):
            assert left in names(tmp_path), "that of another folder"
        (folder / "bundle.pdf").unlink()
        with made_beside(folder) as made:
            (made / "bundle.pdf").write_text("all of it again")
            assert left not in names(tmp_path)
    assert names(tmp_path) == ["another", "visit"]
    assert (folder / "bundle.pdf").read_text() == "all of it again"


def test_hidden_folders_that_nobody_here_made_stay(tmp_path: Path) -> None:
    (tmp_path / ".visit-ab12cd34").mkdir()
    (tmp_path / ".visit-ab12cd34" / "mine.txt").write_text("mine")
    (tmp_path / ".visit-notes").mkdir()
    with made_beside(tmp_path / "visit"):
        pass
    assert names(tmp_path) == [".visit-ab12cd34", ".visit-notes", "visit"]
    assert (tmp_path / ".visit-ab12cd34" / "mine.txt").read_text() == "mine"


def test_nothing_is_left_of_one_that_could_not_be_finished(tmp_path: Path) -> None:
    def half() -> None:
        with made_beside(tmp_path / "visit") as made:
            (made / "bundle.pdf").write_text("half of it")
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        half()
    assert names(tmp_path) == []
