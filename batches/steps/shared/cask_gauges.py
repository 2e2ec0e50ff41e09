"""A cask that is weighed and proved: what it lost since it was last measured, and what nobody has explained.

Pure alcohol in microlitres, mass in grams.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from batches.sheets.typed.completed import Written
from batches.steps.shared.books import book_without, expected_contents
from distillery.alcoholometry.quantity import Quantity
from ledger.posting.accounts import difference, loss
from ledger.posting.drafts import Line, Moved


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
    short = book.pure_ul - measured.pure_ul
    expected = expected_contents(cask, at, without=number)
    evaporated = min(short, max(0, book.pure_ul - expected.least_ul)) if expected is not None else 0
    evaporation: tuple[Line, ...] = ()
    if evaporated > 0:
        # Alcohol and water leave together; the mass goes with the alcohol in the proportion that is missing.
        mass_g = max(0, book.mass_g - measured.mass_g) * evaporated // short
        gone = Quantity(pure_ul=evaporated, mass_g=mass_g, litres20=0.0, percent20=0.0, uncertainty_ul=0.0)
        evaporation = (Moved(account, loss("evaporation in cask"), gone),)
    lines = (*evaporation, written.taken("", difference(operation), name=name))
    return Weighed(lines, expected.middle_ul if expected is not None else book.pure_ul)
