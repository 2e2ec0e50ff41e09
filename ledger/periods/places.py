"""Two places of an entry: where the books carry it, and where it truly stands among what happened.

The two are the same until a period is closed. What is put right in a closed period is carried at the first open moment,
and `Movement.true_at` says when it truly happened. Its legs stand there before everything that truly happened at that
moment, in their own order: their positions are lowered by `CARRIED`. Gauges always stand at their true place. So a book
can be asked for as it would stand had everything been written in its true place, and just after every gauge that
stands, that book equals the gauge. Pure alcohol in microlitres, mass in grams.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from functools import lru_cache
from typing import Final

from django.db.models import Case, F, Q, Sum, Value, When
from django.db.models.functions import Coalesce

from distillery.database.fixed_sql import LAST, as_kept, ask, ask_one
from ledger.models import Leg, Movement, RunningBalance
from ledger.periods.models import Closing

# Beyond any position, and small enough that an exact whole number of JSON holds it in every reader (2 to the 53rd).
CARRIED: Final = 1 << 52

Key = tuple[datetime, int]

_BOOK_OF: Final = """
SELECT account_id, balance_ul, mass_g FROM ledger_runningbalance
WHERE account_id = %s AND (happened_at, position) <= (%s, %s)
ORDER BY happened_at DESC, position DESC, leg_id DESC LIMIT 1
"""

# Of a leg, for questions in the order in which things truly happened.
TRUE_AT: Final = Coalesce("movement__true_at", "happened_at")
TRUE_POSITION: Final = Case(
    When(movement__true_at__isnull=True, then=F("position")), default=F("position") + Value(CARRIED)
)


def true_key(movement: Movement, leg: Leg) -> Key:
    """Where a leg truly stands."""
    if movement.true_at is None:
        return leg.happened_at, leg.position
    return movement.true_at, leg.position + CARRIED


def book_at(account_id: int, at: datetime, position: int | None = None, *, closed: bool) -> tuple[int, int]:
    """An account's pure alcohol and mass just after a place, or after all of a moment where no position is given.

    With `closed`, for moments in closed periods, what the books carry later but truly stands before the place is
    counted too.
    """
    found = ask_one(_BOOK_OF, [account_id, as_kept(at), LAST if position is None else position])
    _, pure_ul, mass_g = found or (account_id, 0, 0)
    if not closed:
        return pure_ul, mass_g
    truly = Q(leg__movement__true_at__lte=at)
    if position is not None:
        truly = Q(leg__movement__true_at__lt=at) | Q(leg__movement__true_at=at, position__lte=position - CARRIED)
    # Entries are carried only at the ends of closed periods, at negative positions: few index steps for each.
    ends = Closing.objects.filter(ends__gt=at).values("ends")
    rows = RunningBalance.objects.filter(truly, position__lt=0, happened_at__in=ends, account_id=account_id)
    carried = rows.aggregate(pure=Sum("leg__pure_ul"), mass=Sum("leg__mass_g"))
    return pure_ul + (carried["pure"] or 0), mass_g + (carried["mass"] or 0)


def open_books_at(account_ids: Sequence[int], at: datetime, position: int) -> dict[int, tuple[int, int]]:
    """Several accounts' books at once, each as `book_at` has it for a moment that is open; blank books are left out."""
    if not account_ids:
        return {}
    given = [value for pk in account_ids for value in (pk, as_kept(at), position)]
    return {pk: (pure_ul, mass_g) for pk, pure_ul, mass_g in ask(_several_books(len(account_ids)), given)}


@lru_cache
def _several_books(count: int) -> str:
    return " UNION ALL ".join(f"SELECT * FROM ({_BOOK_OF}) book{number}" for number in range(count))


def lowest_from(account_id: int, first: Key) -> int:
    """The least pure alcohol an account held from a place in a closed period on, all entries in their true places.

    Entries in one place count together: an opposite and a restatement stand where what they answer stands.
    """
    at, position = first
    pure_ul, _ = book_at(account_id, at, position - 1, closed=True)
    lowest, place = pure_ul, first
    later = (
        Leg.objects.filter(account_id=account_id, happened_at__gte=at)
        .annotate(true_at=TRUE_AT, true_position=TRUE_POSITION)
        .filter(Q(true_at__gt=at) | Q(true_at=at, true_position__gte=position))
        .order_by("true_at", "true_position", "pk")
    )
    for true_at, true_position, leg_ul in later.values_list("true_at", "true_position", "pure_ul"):
        if (true_at, true_position) != place:
            lowest, place = min(lowest, pure_ul), (true_at, true_position)
        pure_ul += leg_ul
    return min(lowest, pure_ul)
