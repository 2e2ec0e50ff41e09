"""Known losses by month and cause, and what differs by month, over any span: sums of kept sums, two questions.

Whole microlitres of pure alcohol at 20 °C. A loss is the net of its cause in a month, so that one which was booked back
later makes its month smaller; missing counts as positive.
"""

from __future__ import annotations

from collections import defaultdict

from django.db.models import Sum

from ledger.models import AccountKind, AccountMonth, StageMonth


def losses_by_month(first: str, last: str) -> dict[str, dict[str, int]]:
    """Net of each cause in each month from one to another, by month and cause. One query."""
    rows = (
        AccountMonth.objects.filter(period__gte=first, period__lte=last, account__kind=AccountKind.LOSS)
        .values_list("period", "account__name")
        .annotate(Sum("pure_ul"))
        .order_by()
    )
    found: dict[str, dict[str, int]] = defaultdict(dict)
    for period, cause, net in rows:
        if net:
            found[period][cause] = net
    return dict(found)


def differences_by_month(first: str, last: str) -> dict[str, int]:
    """What all stages miss in each month from one to another. One query."""
    rows = StageMonth.objects.filter(period__gte=first, period__lte=last).values_list("period")
    return dict(rows.annotate(Sum("difference_ul")).order_by())
