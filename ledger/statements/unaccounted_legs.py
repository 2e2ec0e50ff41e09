"""What operations and gauges left unaccounted for, added up from the legs that stand: one place for every figure of it.

Whole microlitres of pure alcohol at 20 °C. An operation's difference counts what is missing as positive; a gauge counts
what it found more than its book as positive. What an enquiry explained afterwards is not taken off here.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from typing import Any, Final

from django.db.models import Q, QuerySet, Sum

from ledger.models import AccountKind, Entry, Gauge, Leg, Movement
from ledger.periods.places import CARRIED

GAUGING: Final = Q(account__code__startswith="difference:gauging:")
# What an operation left, and not what its gauges found before it began.
APART: Final = Q(account__kind=AccountKind.DIFFERENCE) & ~GAUGING


def left_by(movements: QuerySet[Movement]) -> dict[str, int]:
    """The difference of each record that these movements of operations belong to, by its number; one query."""
    rows = (
        Leg.objects.filter(APART, movement__in=movements)
        .values_list("movement__record_number")
        .annotate(left=Sum("pure_ul"))
        .order_by()
    )
    return dict(rows)


def found_by(gauges: Collection[Gauge], movements: QuerySet[Movement]) -> dict[int, int]:
    """What each gauge found more (positive) or less than its book, by its key, restatements counted in; two queries.

    `movements` are those the gauges hang on, or more.
    """
    own: dict[tuple[int, int, int], int] = defaultdict(int)
    legs: QuerySet[Any, Any] = Leg.objects.filter(
        movement__in=movements, entry=Entry.GAUGING, account__kind=AccountKind.VESSEL
    ).values_list("movement_id", "account_id", "position", "pure_ul")
    for movement, account, position, pure_ul in legs:
        # What a closed period carries stands lower; a gauge keeps its own place.
        own[movement, account, position if position >= 0 else position + CARRIED] += pure_ul
    restated: QuerySet[Any, Any] = (
        Leg.objects.standing()
        .filter(movement__restates__movement__in=movements, account__kind=AccountKind.VESSEL)
        .values_list("movement__restates_id")
        .annotate(found=Sum("pure_ul"))
        .order_by()
    )
    again = dict(restated)
    return {
        gauge.pk: own.get((gauge.movement_id, gauge.account.pk, gauge.position), 0) + again.get(gauge.pk, 0)
        for gauge in gauges
    }
