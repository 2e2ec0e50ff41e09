"""What is dear is made once by processes that run side by side."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from threading import Barrier

import pytest

from tests.made_once import made_once


def test_eight_at_once_get_what_one_of_them_made(tmp_path: Path) -> None:
    made: list[int] = []
    together = Barrier(8)

    def ask(who: int) -> str:
        together.wait()
        return made_once(tmp_path, "cask", lambda: made.append(who) or f"by {who}")  # type: ignore[func-returns-value]

    with ThreadPoolExecutor(8) as askers:
        given = list(askers.map(ask, range(8)))
    assert len(made) == 1
    assert set(given) == {f"by {made[0]}"}


def test_who_comes_after_a_failure_is_told_what_failed(tmp_path: Path) -> None:
    def fail() -> str:
        raise OSError("no room on the disk")

    with pytest.raises(OSError, match="no room"):
        made_once(tmp_path, "cask", fail)
    with pytest.raises(AssertionError, match="cask was not made: no room on the disk"):
        made_once(tmp_path, "cask", lambda: "by the second")
