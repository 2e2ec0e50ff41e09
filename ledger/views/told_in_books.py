"""What the floor that keeps records tells on the page of the books: what it awaits from elsewhere and is overdue."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from distillery.pages import Link

AWAITED: Final[list[Callable[[], Link | None]]] = []


def told_in_books() -> list[Link]:
    """One line for each thing that is told, with the way to it."""
    return [said for tell in AWAITED if (said := tell()) is not None]
