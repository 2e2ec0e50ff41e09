"""A folder made beside the one that was asked for, which gets its name only when all of it is there.

Whoever makes one holds a lock in it, which ends with the process however that ends. So what a process left that was
killed is known by its mark without a holder, and the next that makes something there removes it.
"""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from tempfile import mkdtemp
from typing import Final

from django.core.files import locks

HELD: Final = "being-made.lock"
MADE: Final = "made"
# What mkdtemp adds to a prefix.
_ADDED: Final = re.compile(r"[a-z0-9_]{8}")


@contextmanager
def made_beside(folder: Path) -> Iterator[Path]:
    """Gives a new folder to write into; at its end that folder has the name of `folder`, which is empty or not there.
    Where something goes wrong nothing is left. Raises OSError."""
    within = folder.absolute().parent
    within.mkdir(parents=True, exist_ok=True)
    _remove_left(folder)
    beside = Path(mkdtemp(prefix=_prefix(folder), dir=within))
    try:
        with (beside / HELD).open("w") as held:
            # A disk that knows no locks takes a bundle too; what is left there nobody removes.
            with suppress(OSError):
                locks.lock(held, locks.LOCK_EX)
            made = beside / MADE
            made.mkdir(mode=0o700)
            yield made
            with suppress(FileNotFoundError):
                folder.rmdir()
            made.rename(folder)
    finally:
        shutil.rmtree(beside, ignore_errors=True)


def _prefix(folder: Path) -> str:
    return f".{folder.name}-"


def _remove_left(folder: Path) -> None:
    """Removes what processes left that were killed as they made this folder; what somebody holds stays."""
    prefix = _prefix(folder)
    for left in folder.absolute().parent.iterdir():
        if not left.name.startswith(prefix) or not _ADDED.fullmatch(left.name.removeprefix(prefix)):
            continue
        with suppress(OSError):
            if _is_free(left / HELD):
                shutil.rmtree(left, ignore_errors=True)


def _is_free(mark: Path) -> bool:
    """Whether no process holds a mark. Raises OSError where there is none, or the disk knows no locks."""
    with mark.open("r+") as file:
        return bool(locks.lock(file, locks.LOCK_EX | locks.LOCK_NB))
