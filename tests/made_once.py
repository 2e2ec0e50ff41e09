"""Something dear that processes running tests side by side make once: the first makes it, the others wait."""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from pathlib import Path

LONGEST_WAIT_S = 600
EVERY_S = 0.1


def made_once(folder: Path, name: str, make: Callable[[], str]) -> str:
    """What `make` gave, in whichever process came first; `folder` is one they share.

    Raises AssertionError where the making failed, with what it said, and where it takes longer than ten minutes.
    """
    done, failed = folder / f"{name}.made", folder / f"{name}.failed"
    if _first(folder / f"{name}.being-made"):
        try:
            what = make()
        except BaseException as error:
            _put(failed, f"{name} was not made: {error}")
            raise
        _put(done, what)
    until = time.monotonic() + LONGEST_WAIT_S
    while not done.exists():
        assert not failed.exists(), failed.read_text(encoding="utf-8")
        assert time.monotonic() < until, f"{name} is still not made by another process of this run."
        time.sleep(EVERY_S)
    return done.read_text(encoding="utf-8")


def _first(flag: Path) -> bool:
    try:
        os.close(os.open(flag, os.O_CREAT | os.O_EXCL | os.O_WRONLY))
    except FileExistsError:
        return False
    return True


def _put(file: Path, text: str) -> None:
    """Whole or not at all: who waits for the file never reads half of it."""
    unfinished = file.with_suffix(".unfinished")
    unfinished.write_text(text, encoding="utf-8")
    unfinished.replace(file)
