"""Materials as they are used: which lot, how much, and when; gathered so that each can be received before its use."""

from dataclasses import dataclass, field
from typing import Any

from tests.simulator.month import Month


@dataclass(frozen=True)
class Lot:
    """One lot: what it is of, what it is called, its code, and what a delivery of it says besides."""

    material: str
    what: str
    code: str
    said: tuple[tuple[str, Any], ...] = ()


@dataclass
class Uses:
    """All uses of the lots of a year, in order of time; kilograms or pieces."""

    of: dict[Lot, list[tuple[str, float]]] = field(default_factory=dict)

    def note(self, lot: Lot, at: str, amount: float) -> None:
        self.of.setdefault(lot, []).append((at, amount))

    def until(self, lot: Lot, at: str) -> float:
        """What was used of a lot before a moment."""
        return sum(amount for when, amount in self.of[lot] if when < at)


_KEPT = "uses of materials"


def uses_of(year: Month) -> Uses:
    """The uses noted of this year so far; noted with the year itself."""
    found: Uses = year.__dict__.setdefault(_KEPT, Uses())
    return found
