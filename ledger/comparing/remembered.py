"""Parts of comparisons made before, remembered by everything they were made from.

After one more record nearly all of a month is what it was. A part is found again by its whole material: an entry by its
seal, a stretch of rows by a digest of every figure in it. So what is remembered and what is made anew by the same
function from the same material agree to the last digit, and there is nothing that could be out of date. It lives in the
memory of one process, where no hand in the database reaches it, and may be thrown away at any time.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from copy import copy
from typing import Any, Final, TypeVar, cast

Part = TypeVar("Part")
_MISSING: Final = object()


class Remembered:
    """So many parts, those asked for last; for several threads at once.

    `plant` says which state of the plant and its rules parts are made with that measure readings anew.
    """

    def __init__(self, most: int) -> None:
        self.plant: Hashable = ""
        self._most = most
        self._parts: OrderedDict[Hashable, Any] = OrderedDict()
        self._guard = threading.Lock()

    def __len__(self) -> int:
        return len(self._parts)

    @property
    def remembers(self) -> bool:
        """Whether anything is remembered at all, so that it is worth asking by what a part is known."""
        return self._most > 0

    def with_plant(self, plant: Hashable) -> Remembered:
        """The same parts, asked for with the plant in this state."""
        again = copy(self)
        again.plant = plant
        return again

    def find(self, made_from: Hashable) -> Any:
        """The part made from this, or None."""
        with self._guard:
            part = self._parts.get(made_from)
            if part is not None:
                self._parts.move_to_end(made_from)
            return part

    def keep(self, made_from: Hashable, part: Any) -> None:
        """Remembers a part. Whoever is handed it later changes nothing in it."""
        with self._guard:
            self._parts[made_from] = part
            self._parts.move_to_end(made_from)
            while len(self._parts) > self._most:
                self._parts.popitem(last=False)

    def part(self, made_from: Hashable, make: Callable[[], Part]) -> Part:
        """The part made from this, made where it is not remembered. What `make` raises is not remembered."""
        with self._guard:
            there = self._parts.get(made_from, _MISSING)
            if there is not _MISSING:
                self._parts.move_to_end(made_from)
                return cast(Part, there)
        made = make()
        if self._most:
            self.keep(made_from, made)
        return made

    def forget(self) -> None:
        """Throws all of it away."""
        with self._guard:
            self._parts.clear()


# For what is made from nothing.
NOTHING: Final = Remembered(0)
