"""What stands in vessels and has no alcohol in the books yet: fermenting wash. Told by the floor that keeps records."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class AtWork:
    """What a vessel holds: the record, what is said of it ('ferments'), and the litres that went in, where known."""

    record_kind: str
    record_number: str
    said: str
    litres: float | None


# Whoever knows what vessels hold that no account has yet, by the vessel's key.
TOLD: list[Callable[[], Mapping[int, AtWork]]] = []


def at_work() -> dict[int, AtWork]:
    """What vessels hold now that is not in the books, by the vessel's key."""
    return {vessel: held for tell in TOLD for vessel, held in tell().items()}
