"""Account points: where alcohol is measured as it passes on, as each was taken last.

A point is a kind of operation that balances what it took against what came of it. Of each the newest is shown: what it
is judged against, what it left unaccounted for, and whether that is beyond its review threshold. The number of
questions does not grow with what was posted.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from distillery.database.fixed_sql import ask
from distillery.rules.models import ReviewThreshold
from ledger.comparing.unaccounted import OperationLeft, left_by_records
from ledger.models import Movement, MovementKind
from ledger.posting.drafts import THE_BOOK

# So many of the last written of a kind are looked at for the one that happened last.
LOOKED_AT: Final = 8
_LAST: Final = f"""
SELECT id FROM (
    SELECT id FROM ledger_movement one
    WHERE operation = %s AND kind = '{MovementKind.OPERATION.value}' AND judged_ul IS NOT NULL AND judged_against <> %s
    AND NOT EXISTS (SELECT 1 FROM ledger_movement another WHERE another.corrects_id = one.id)
    ORDER BY id DESC LIMIT {LOOKED_AT}
) newest
"""


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
    newest: dict[str, Movement] = {}
    for one in Movement.objects.filter(pk__in=_last_of_each()).order_by("pk"):
        last = newest.get(one.operation)
        if last is None or one.took_place_at >= last.took_place_at:
            newest[one.operation] = one
    left = left_by_records({one.record_number for one in newest.values()})
    return sorted(map(AccountPoint, left.values()), key=lambda one: one.left.at, reverse=True)


def _last_of_each() -> list[int]:
    """The last written movements of every operation that is judged, those taken back left out."""
    operations = sorted(set(ReviewThreshold.objects.values_list("operation", flat=True)))
    if not operations:
        return []
    question = " UNION ALL ".join([_LAST] * len(operations))
    return [row[0] for row in ask(question, [value for one in operations for value in (one, THE_BOOK)])]
