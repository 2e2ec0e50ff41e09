"""Whether a vessel is clean, as every page says it. Who keeps the records tells it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from ledger.statements.balances import Holding


@dataclass(frozen=True, slots=True)
class Cleaning:
    """How a vessel stands to its cleaning: in words, since when it is due where it is, and the last record of it."""

    said: str
    due_since: datetime | None
    record_kind: str
    record_number: str

    @property
    def is_due(self) -> bool:
        """True where it should be cleaned before it is filled again."""
        return self.due_since is not None


# Whoever knows how vessels stand to their cleaning at a moment, by code; one without a record of it is left out.
CLEANED: list[Callable[[Iterable[Holding], datetime], Mapping[str, Cleaning]]] = []


def cleaned(holdings: Iterable[Holding], now: datetime) -> dict[str, Cleaning]:
    """How vessels stand to their cleaning, by code."""
    there = list(holdings)
    return {code: one for tell in CLEANED for code, one in tell(there, now).items()}
