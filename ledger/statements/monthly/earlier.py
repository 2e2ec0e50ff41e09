"""The months before one, each with the line of the whole site, and what left by each cause: sums of kept sums.

Whole microlitres of pure alcohol at 20 °C. Asked over all months at once, from rows by month and stage and from the few
accounts at the fence of the site, so that neither casks nor movements are gone through.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.db.models import Sum

from distillery.plant.models import Stage
from ledger.models import AccountKind, AccountMonth, StageMonth
from ledger.periods.calendar import Calendar
from ledger.statements.month import StageLine

SHOWN = 6


@dataclass(frozen=True, slots=True)
class MonthLine:
    """A month by its code and name, with the line of the site."""

    period: str
    name: str
    site: StageLine


def stage_flows() -> list[StageMonth]:
    """What came, went, was lost and differs by month and stage, the oldest first: a few rows for each month."""
    return list(StageMonth.objects.order_by("period", "stage"))


def month_lines(periods: Sequence[str], calendar: Calendar) -> list[MonthLine]:
    """The site's line of each of these months, in their order. Two queries. Raises NoSuchPeriod."""
    wanted = set(periods)
    if not wanted:
        return []
    crossed = fence_of(wanted)
    held = 0
    found: dict[str, MonthLine] = {}
    by_period: dict[str, list[StageMonth]] = defaultdict(list)
    for row in stage_flows():
        by_period[row.period].append(row)
    for period in sorted({*by_period, *wanted}):
        rows = by_period.get(period, [])
        losses = sum(row.loss_ul for row in rows)
        differences = sum(row.difference_ul for row in rows)
        opening = held
        held += sum(row.in_ul - row.out_ul for row in rows) - losses - differences
        if period in wanted:
            came, left = crossed.get(period, (0, 0))
            found[period] = MonthLine(
                period, calendar.name_of(period), StageLine("site", opening, came, left, losses, differences, held)
            )
    return [found[period] for period in periods]


def stage_closings(periods: Sequence[str]) -> dict[str, dict[str, int]]:
    """What each stage held at the end of each of these months, by month and stage. One query."""
    wanted, held = sorted(set(periods)), dict.fromkeys(map(str, Stage.values), 0)
    rows = stage_flows()
    found: dict[str, dict[str, int]] = {}
    place = 0
    for period in wanted:
        while place < len(rows) and rows[place].period <= period:
            row = rows[place]
            held[row.stage] += row.in_ul - row.out_ul - row.loss_ul - row.difference_ul
            place += 1
        found[period] = dict(held)
    return found


def fence_of(periods: set[str]) -> Mapping[str, tuple[int, int]]:
    """What entered the site's books from sources and what left them by removals, by month. One query."""
    rows = (
        AccountMonth.objects.filter(
            period__gte=min(periods),
            period__lte=max(periods),
            account__kind__in=(AccountKind.SOURCE, AccountKind.REMOVAL),
        )
        .values_list("period", "account__kind")
        .annotate(Sum("pure_ul"))
        .order_by()
    )
    found: dict[str, list[int]] = defaultdict(lambda: [0, 0])
    for period, kind, net in rows:
        if kind == AccountKind.SOURCE:
            found[period][0] -= net
        else:
            found[period][1] += net
    return {period: (came, left) for period, (came, left) in found.items()}
