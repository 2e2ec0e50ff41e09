"""A disk with no room left, told from every other error, in this one place.

What counts as full: the system's ENOSPC, EDQUOT and EFBIG; SQLite's FULL result code, and its IOERR where the write
itself failed for want of room (sqlite.org/rescode.html); PostgreSQL's 53100 disk full (documentation, appendix A).
"""

from __future__ import annotations

import errno
import sqlite3
from collections.abc import Iterator
from typing import Final

FULL: Final = frozenset({errno.ENOSPC, errno.EFBIG, getattr(errno, "EDQUOT", errno.ENOSPC)})
DISK_FULL_STATE: Final = "53100"
# A write that failed by itself: SQLite gives no other reason, and none but a full disk is common. Own reading.
SQLITE_IOERR_WRITE: Final = 778


class FullDisk(Exception):
    """There is no room on the disk; nothing was written."""

    sentence = "The disk is full; nothing was saved. Make room on it, then do the same once more."

    def __init__(self) -> None:
        super().__init__(self.sentence)


def is_full(error: BaseException) -> bool:
    """True where an error, or one that it came from, says that the disk is full."""
    return any(_says_full(one) for one in _chain(error))


def _says_full(error: BaseException) -> bool:
    if isinstance(error, FullDisk):
        return True
    if isinstance(error, OSError):
        return error.errno in FULL
    if isinstance(error, sqlite3.Error):
        code = getattr(error, "sqlite_errorcode", 0)
        return code & 0xFF == sqlite3.SQLITE_FULL or code == SQLITE_IOERR_WRITE
    return getattr(error, "sqlstate", None) == DISK_FULL_STATE


def _chain(error: BaseException) -> Iterator[BaseException]:
    seen: set[int] = set()
    one: BaseException | None = error
    while one is not None and id(one) not in seen:
        seen.add(id(one))
        yield one
        one = one.__cause__ or one.__context__
