"""What the floor that keeps records tells of a month: what its malt yielded, and what is not on record yet."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from distillery.pages import Link


@dataclass(frozen=True, slots=True)
class YieldLine:
    """What some malt came to, LPA a tonne, beside what it promised: all mashes of a month, or a distillation period.

    `said` says how it stands ('open', 'not judged'); blank where it is judged.
    """

    name: str
    href: str
    malt_kilograms: float
    reached: float | None
    promised: float | None
    said: str = ""

    @property
    def efficiency(self) -> float | None:
        """What was reached as % of what was promised."""
        return 100.0 * self.reached / self.promised if self.reached is not None and self.promised else None


# Each is given the first moment of the month and that of the next one.
YIELDS: Final[list[Callable[[datetime, datetime], Iterable[YieldLine]]]] = []
NOT_WRITTEN: Final[list[Callable[[datetime, datetime], Iterable[Link]]]] = []

# What else is made of a month, by its code: a way there, or None.
WAYS: Final[list[Callable[[str], Link | None]]] = []


def ways_of_month(period: str) -> list[Link]:
    """The ways from a month to what else is made of it, such as figures of its return."""
    return [way for tell in WAYS if (way := tell(period)) is not None]


def yields_of(starts: datetime, ends: datetime) -> list[YieldLine]:
    """What the malt of a month came to."""
    return [line for tell in YIELDS for line in tell(starts, ends)]


def not_written(starts: datetime, ends: datetime) -> list[Link]:
    """What is missing on record, each as one line with the way to it."""
    return [line for tell in NOT_WRITTEN for line in tell(starts, ends)]
