"""Account points: where alcohol is measured as it passes on, as each was taken last.

A point is a kind of operation that balances what it took against what came of it. Of each the newest is shown: what it
is judged against, what it left unaccounted for, and whether that is beyond its review threshold. The number of queries
does not grow with what was posted.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from distillery.rules.models import ReviewThreshold
from ledger.comparing.unaccounted import OperationLeft, left_by_records
from ledger.models import Movement
from ledger.posting.drafts import THE_BOOK

# So many of the last written of a kind are looked at for the one that happened last.
LOOKED_AT: Final = 8


@dataclass(frozen=True, slots=True)
class AccountPoint:
    """One point as it was taken last, whole microlitres: sent is what the difference is judged against."""

    left: OperationLeft

    @property
    def sent_ul(self) -> int:
        """What went into the operation."""
        return self.left.charge_ul

    @property
    def received_ul(self) -> int:
        """What came of it, known losses included."""
        return self.left.charge_ul - self.left.difference_ul


def account_points() -> list[AccountPoint]:
    """The points in the order in which they were taken, the last one first."""
    newest = [max(last, key=lambda one: one.took_place_at) for operation in _operations() if (last := _last(operation))]
    left = left_by_records({one.record_number for one in newest})
    found = [AccountPoint(left[one.record_number]) for one in newest if one.record_number in left]
    return sorted(found, key=lambda one: one.left.at, reverse=True)


def _operations() -> list[str]:
    return sorted(set(ReviewThreshold.objects.values_list("operation", flat=True)))


def _last(operation: str) -> list[Movement]:
    judged = Movement.objects.operations().filter(operation=operation, judged_ul__isnull=False)
    return list(judged.exclude(judged_against=THE_BOOK).order_by("-pk")[:LOOKED_AT])
