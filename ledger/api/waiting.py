"""How often may be asked: a token so many times a minute, and who comes with wrong ones waits.

Counted in the memory of the process that serves, in bounds: a token has 256 random bits, so this keeps a program that
was set up wrongly from asking all day, and not a guesser from guessing.
"""

from __future__ import annotations

import math
import threading
from collections import OrderedDict
from time import monotonic
from typing import Final

WITHIN_S: Final = 60.0
MOST_ASKED: Final = 120
MOST_WRONG: Final = 10
_MOST_KNOWN: Final = 1000


class Counted:
    """Counts by whatever it is given, within a minute each; the oldest are forgotten."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._begun: OrderedDict[object, tuple[float, int]] = OrderedDict()
        self._lock = threading.Lock()

    def wait_s(self, what: object) -> int:
        """The seconds to wait until something may be done again; 0 where it may."""
        with self._lock:
            begun, count = self._begun.get(what, (0.0, 0))
            left = begun + WITHIN_S - monotonic()
            return math.ceil(left) if count >= self._most and left > 0 else 0

    def add(self, what: object) -> None:
        """Counts one more."""
        with self._lock:
            begun, count = self._begun.get(what, (0.0, 0))
            now = monotonic()
            self._begun[what] = (begun, count + 1) if count and now - begun < WITHIN_S else (now, 1)
            self._begun.move_to_end(what)
            while len(self._begun) > _MOST_KNOWN:
                self._begun.popitem(last=False)

    def forget(self) -> None:
        """Begins anew, for tests."""
        with self._lock:
            self._begun.clear()


asked = Counted(MOST_ASKED)
wrong = Counted(MOST_WRONG)
