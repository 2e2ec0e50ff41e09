"""What was lost by cause and what differs by operation in a month, missing and over apart: gains are set off against
nothing. Whole microlitres of pure alcohol at 20 °C.

Each record is counted by itself, with its corrections and what was explained of it taken in.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from django.db.models import Sum

from ledger.models import AccountKind, Leg


@dataclass(frozen=True, slots=True)
class Apart:
    """Under one name: what records lost or miss, and what others of them gave back or have over. Both are positive."""

    name: str
    missing_ul: int
    over_ul: int

    @property
    def net_ul(self) -> int:
        """Missing less over."""
        return self.missing_ul - self.over_ul


@dataclass(frozen=True, slots=True)
class Causes:
    """Known losses by cause, where `over_ul` is what was booked back; and differences by operation."""

    losses: tuple[Apart, ...]
    differences: tuple[Apart, ...]


def causes_of(period: str) -> Causes:
    """The losses and differences of a month, in order of name. One query, over what was posted in the month."""
    rows = (
        Leg.objects.filter(movement__period=period, account__kind__in=(AccountKind.LOSS, AccountKind.DIFFERENCE))
        .values_list("account__kind", "account__name", "movement__record_kind", "movement__record_number")
        .annotate(Sum("pure_ul"))
        .order_by()
    )
    sums: dict[tuple[str, str], list[int]] = defaultdict(lambda: [0, 0])
    for kind, name, _, _, pure_ul in rows:
        sums[kind, name][pure_ul < 0] += abs(pure_ul)
    return Causes(_apart(sums, AccountKind.LOSS), _apart(sums, AccountKind.DIFFERENCE))


def _apart(sums: dict[tuple[str, str], list[int]], kind: str) -> tuple[Apart, ...]:
    return tuple(Apart(name, *amounts) for (of, name), amounts in sorted(sums.items()) if of == kind and any(amounts))
