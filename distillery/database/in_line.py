"""Who writes into SQLite waits in line, so that whoever came first writes first.

SQLite has one write lock, and whoever waits for it asks again and again, less often the longer they wait
(sqlite.org/c3ref/busy_timeout.html): where eight people write without a pause, whoever has just come is served before
whoever has waited for seconds. On a slow computer somebody was told that the books are busy though each writing took a
fifth of a second. PostgreSQL keeps a line of its own for the one row that writers take first, and needs none of this.

Other processes (a command, long work) wait by SQLite's own rule, beside the one that is first in line here.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

from django.db import connection

# As long as SQLite itself is waited for; whoever has no turn by then tries without a place in the line.
LONGEST_WAIT_S: Final = 20.0


class Line:
    """One at a time, in the order in which they came."""

    def __init__(self) -> None:
        self._guard = threading.Lock()
        self._waiting: deque[threading.Lock] = deque()
        self._whose: int | None = None

    @property
    def is_mine(self) -> bool:
        """True while this thread has its turn."""
        return self._whose == threading.get_ident()

    def come(self, longest_s: float) -> bool:
        """True once it is this thread's turn; False where that did not come in so many seconds."""
        with self._guard:
            if self._whose is None:
                self._whose = threading.get_ident()
                return True
            mine = threading.Lock()
            mine.acquire()
            self._waiting.append(mine)
        mine.acquire(timeout=longest_s)
        with self._guard:
            if mine in self._waiting:
                self._waiting.remove(mine)
                return False
            # Whoever went before has left the turn to this thread, perhaps as it gave up.
            self._whose = threading.get_ident()
            return True

    def go(self) -> None:
        """Leaves the turn to whoever has waited longest."""
        with self._guard:
            self._whose = None
            if self._waiting:
                # Taken until that thread says so itself, or somebody who comes now would go before.
                self._whose = 0
                self._waiting.popleft().release()


LINE: Final = Line()


@contextmanager
def in_line() -> Iterator[None]:
    """Around a transaction that writes. Inside another transaction nobody waits: it has the write lock already."""
    if connection.vendor != "sqlite" or connection.in_atomic_block or LINE.is_mine:
        yield
        return
    has_turn = LINE.come(LONGEST_WAIT_S)
    try:
        yield
    finally:
        if has_turn:
            LINE.go()
