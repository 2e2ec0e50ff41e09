"""A cask that is weighed and proved: what it lost since it was last measured, and what nobody has explained.

Pure alcohol in microlitres, mass in grams.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from batches.sheets.typed.completed import Written
from batches.steps.shared.books import Expected, book_without, expected_contents
from distillery.alcoholometry.quantity import Quantity
from ledger.posting.accounts import AccountRef, difference, loss
from ledger.posting.drafts import Book, Line, Moved

EVAPORATION = "evaporation in cask"


@dataclass(frozen=True, slots=True)
class Weighed:
    """The lines that bring a cask's book to its weighing, and what it should have held (microlitres)."""

    lines: tuple[Line | None, ...]
    should_hold_ul: int


def brought_to_weight(written: Written, *, at: datetime, number: str, operation: str, name: str) -> Weighed:
    """Evaporation as far as its age, warehouse and kind make expected, then the gauge with the rest as difference.

    The cask stands in the field `cask`, its weighing has no prefix. Raises Ungaugeable, NoRuleInForce.
    """
    cask, account = written.vessel("cask"), written.account("cask")
    measured = written.quantity("")
    book = book_without(account, at, number)
    expected = expected_contents(cask, at, without=number)
    evaporation = evaporated(account, book, measured, expected)
    lines = (*evaporation, written.taken("", difference(operation), name=name))
    return Weighed(lines, expected.middle_ul if expected is not None else book.pure_ul)


def evaporated(account: AccountRef, book: Book, measured: Quantity, expected: Expected | None) -> tuple[Line, ...]:
    """What a cask lost by evaporation, as a movement: what is missing of its book, down to the least that is expected.

    Nothing where nothing is missing, or where nothing is known of how it ages. Alcohol and water leave together; the
    mass goes with the alcohol in the proportion that is missing.
    """
    short_ul = book.pure_ul - measured.pure_ul
    gone_ul = min(short_ul, max(0, book.pure_ul - expected.least_ul)) if expected is not None else 0
    if gone_ul <= 0:
        return ()
    mass_g = max(0, book.mass_g - measured.mass_g) * gone_ul // short_ul
    gone = Quantity(pure_ul=gone_ul, mass_g=mass_g, litres20=0.0, percent20=0.0, uncertainty_ul=0.0)
    return (Moved(account, loss(EVAPORATION), gone),)
