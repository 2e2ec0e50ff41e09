"""What the difference of an operation is judged against, from the gauges of its own record.

A transfer, a vatting, a fill or a bottling is judged against what left the giver, a run against its charge, which is
what left the vessels it was charged from; what is worked in one vessel against its contents before. Pure alcohol,
microlitres at 20 °C.
"""

from __future__ import annotations

from datetime import datetime
from math import sqrt
from typing import Final

from batches.sheets.typed.completed import Completed
from distillery.alcoholometry.quantity import Quantity
from ledger.posting.drafts import JudgedAgainst

COVERAGE: Final = 2.0


def what_left(written: Completed, name: str, *gauges: tuple[str, str], at: datetime | None = None) -> JudgedAgainst:
    """What the vessels gave between their gauges before and after, by the prefixes of those gauges.

    `at` is the day of the gravity factors, where it is wash that was gauged.
    """
    parts = tuple((prefix, sign) for before, after in gauges for prefix, sign in ((before, 1), (after, -1)))
    left = sum(sign * written.quantity(prefix, at=at).pure_ul for prefix, sign in parts)
    return JudgedAgainst(name, left, tuple((_as_posted(written, prefix), sign) for prefix, sign in parts))


def contents(written: Completed, name: str, gauge: str) -> JudgedAgainst:
    """What a vessel held at its gauge before."""
    return JudgedAgainst(name, written.quantity(gauge).pure_ul, ((gauge, 1),))


def u95_of_difference(measured: Quantity) -> float:
    """How far two gauges like this one may lie apart by what their readings can be wrong, microlitres: the expanded
    uncertainty (k = 2) of one, times the root of two (process reference, section J)."""
    return COVERAGE * sqrt(2.0) * measured.uncertainty_ul


def _as_posted(written: Completed, prefix: str) -> str:
    """The name by which a gauge stands in the books: its own, or that of the gauge it is where it is left blank."""
    gauge = written.sheet.gauge(prefix)
    if not written.shares(prefix):
        return prefix
    return f"{gauge.same_as}@{written.record(gauge.same_of).number}" if gauge.same_of else gauge.same_as
