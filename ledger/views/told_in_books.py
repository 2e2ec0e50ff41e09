"""What the floor that keeps records tells on the page of the books: what it awaits from elsewhere and is overdue, and
what waits for a second person.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from distillery.pages import ONE_OF_TWO, Kind, Link, State

AWAITED: Final[list[Callable[[], Link | None]]] = []
FOR_A_SECOND: Final[list[Callable[[], Link | None]]] = []
OVERDUE: Final = State(Kind.LATE, "Overdue")


def told_in_books() -> list[tuple[State, Link]]:
    """One line for each thing that is told, with its state and the way to it."""
    found = []
    for state, tellers in ((OVERDUE, AWAITED), (ONE_OF_TWO, FOR_A_SECOND)):
        found += [(state, said) for tell in tellers if (said := tell()) is not None]
    return found
