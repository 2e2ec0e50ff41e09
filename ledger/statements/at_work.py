"""What a vessel holds, as every page and print says it: by its book, or by work whose alcohol no book has yet.

Fermenting wash has no alcohol in the books until it is declared. What is at work is told by the floor that keeps
records.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from distillery.figures import litres, lpa, percent
from ledger.models import Account
from ledger.statements.balances import Holding, book_before

EMPTY: Final = "Empty"
NOT_DECLARED: Final = "Not declared"
GAUGE_TO_TELL: Final = "Gauge to tell"


@dataclass(frozen=True, slots=True)
class AtWork:
    """What a vessel holds: the record, what is said of it ('ferments'), the litres that went in and since when, where
    known.
    """

    record_kind: str
    record_number: str
    said: str
    litres: float | None
    since: datetime | None = None

    @property
    def sentence(self) -> str:
        """The record and what goes on: 'FE0001 ferments'."""
        return f"{self.record_number} {self.said}"


# Whoever knows what vessels held just before a moment (None: what they hold now) that no account has yet, by the
# vessel's key; of one vessel alone where its key is given.
TOLD: list[Callable[[datetime | None, int | None], Mapping[int, AtWork]]] = []


def at_work(before: datetime | None = None, vessel: int | None = None) -> dict[int, AtWork]:
    """What vessels hold now, or held just before a moment, that is not in the books, by the vessel's key.

    Of one vessel alone where its key is given.
    """
    return {one: held for tell in TOLD for one, held in tell(before, vessel).items()}


@dataclass(frozen=True, slots=True)
class Contents:
    """What a vessel holds in words and figures: LPA, litres at 20 °C, % vol, and the work in it, if that is all."""

    alcohol: str
    bulk: str
    strength: str
    held: AtWork | None = None


def contents_of(holding: Holding, working: Mapping[int, AtWork]) -> Contents:
    """What the vessel of a book holds. `working` is what `at_work` tells of the same moment as the book."""
    held = held_in(holding, working)
    if held is not None:
        bulk = GAUGE_TO_TELL if held.litres is None else litres(held.litres)
        return Contents(NOT_DECLARED, bulk, NOT_DECLARED, held)
    if not holding.pure_ul:
        return Contents(lpa(0), EMPTY, EMPTY)
    return Contents(
        lpa(holding.pure_ul),
        GAUGE_TO_TELL if holding.litres20 is None else litres(holding.litres20),
        GAUGE_TO_TELL if holding.percent20 is None else percent(holding.percent20),
    )


def held_in(holding: Holding, working: Mapping[int, AtWork]) -> AtWork | None:
    """What is at work in a vessel whose book holds nothing; what the book holds speaks for itself."""
    return None if holding.pure_ul else working.get(holding.account.vessel_id or 0)


def held_at(account: Account, moment: datetime) -> AtWork | None:
    """The same of one account just before a moment, without what else of it a holding says."""
    if account.vessel_id is None or book_before(account, moment):
        return None
    return at_work(moment, account.vessel_id).get(account.vessel_id)
