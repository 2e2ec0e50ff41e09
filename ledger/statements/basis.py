"""How it is known what an account held in a period: gauged in it, counted, seen, or by its book alone.

A vessel or cask is gauged where a gauge of it took place in the period, bottled stock is counted where a stock take
counted it, a cask is seen where a stock take saw it and did not weigh it. Whatever is none of these stands by its book.
Here alone this is worked out; the month, the list of stock and paper ask. What is corrected after a period was closed
changes nothing of it, so that its account says the same as on the day it was closed.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any, Final

from django.db.models import Exists, Max, OuterRef, QuerySet, Sum

from ledger.models import AccountMonth, Gauge, Movement
from ledger.periods.calendar import Calendar, closing_of
from ledger.statements.month import MonthAccount


class Basis(StrEnum):
    """By what it is known, the best first."""

    GAUGED = "gauged"
    COUNTED = "counted"
    SEEN = "seen"
    BOOK = "book"


SAID: Final[Mapping[Basis, str]] = {
    Basis.GAUGED: "Gauged in the period",
    Basis.COUNTED: "By count",
    Basis.SEEN: "Seen, not gauged",
    Basis.BOOK: "By book",
}


@dataclass(frozen=True, slots=True)
class Span:
    """From a moment to just before another; `closed_at` is when the period was closed, by real time."""

    starts: datetime
    ends: datetime
    closed_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class Known:
    """By what the contents of one account are known, and since when."""

    basis: Basis
    at: datetime


@dataclass(frozen=True, slots=True)
class BasisLine:
    """What of a stage is known in one way: how many accounts (None: not counted, since nobody went there) and how much
    pure alcohol at the end of the period, microlitres.
    """

    stage: str
    basis: Basis
    accounts: int | None
    pure_ul: int


@dataclass(frozen=True, slots=True)
class TakeSaid:
    """A stock take that was posted: its number, from when to when was counted, by whom, the two names under it, and the
    records by which it was posted.
    """

    number: str
    began: datetime
    ended: datetime
    counted_by: tuple[str, ...]
    names: tuple[str, str]
    records: tuple[str, ...]


# Given a span, and the keys of accounts where not all are asked about: when which bottled stock was counted.
COUNTED: list[Callable[[Span, Collection[int] | None], Mapping[int, datetime]]] = []
# Given the same of vessels: rows with `vessel_id` and `at` of casks that were seen and not weighed.
SEEN: list[Callable[[Span, Collection[int] | None], QuerySet[Any, Any]]] = []
# Given a span: the stock takes that counted in it.
TAKES: list[Callable[[Span], Iterable[TakeSaid]]] = []


def span_of(period: str, *, until: datetime | None = None, calendar: Calendar | None = None) -> Span:
    """The span of a period, up to a moment within it where one is given. Raises NoSuchPeriod."""
    starts, ends = (calendar or Calendar.read()).bounds(period)
    closing = closing_of(period)
    return Span(
        starts, min(ends, until) if until is not None else ends, closing.agreed_at if closing is not None else None
    )


def gauged_in(period: str, span: Span, accounts: Collection[int] | None = None) -> dict[int, datetime]:
    """When each account was gauged last within a period; of these accounts alone where they are given."""
    # What was taken back later than the period is still what its account rests on.
    taken_back = Movement.objects.filter(corrects=OuterRef("movement"), period__lte=period)
    gauges = Gauge.objects.filter(
        ~Exists(taken_back), movement__period=period, happened_at__gte=span.starts, happened_at__lt=span.ends
    )
    if accounts is not None:
        gauges = gauges.filter(account__in=accounts)
    return dict(gauges.order_by().values_list("account_id").annotate(Max("happened_at")))


def known_in(period: str, span: Span, accounts: Mapping[int, int | None]) -> dict[int, Known]:
    """By what the contents of each account are known, by its key; those left out stand by their books.

    `accounts` are keys of accounts with that of the vessel of each. A few queries however many there are.
    """
    found: dict[int, Known] = {}
    of_vessel = {vessel: account for account, vessel in accounts.items() if vessel is not None}
    for seen in SEEN:
        for vessel, at in seen(span, of_vessel).values_list("vessel_id", "at"):
            found[of_vessel[vessel]] = Known(Basis.SEEN, at)
    for counted in COUNTED:
        stocks = [account for account, vessel in accounts.items() if vessel is None]
        found |= {account: Known(Basis.COUNTED, at) for account, at in counted(span, stocks).items()}
    found |= {account: Known(Basis.GAUGED, at) for account, at in gauged_in(period, span, accounts).items()}
    return found


def basis_of(account: MonthAccount) -> list[BasisLine]:
    """The closing stock of a period, stage by stage, by what it is known; stages that held nothing are left out.

    The lines of a stage add up to its closing. The number of queries does not depend on what was posted.
    """
    span = span_of(account.period)
    gauged = set(gauged_in(account.period, span))
    counted = {one for each in COUNTED for one in each(span, None)} - gauged
    upto = AccountMonth.objects.filter(period__lte=account.period)
    parts = {Basis.GAUGED: _by_stage(upto, gauged), Basis.COUNTED: _by_stage(upto, counted)}
    for each in SEEN:
        seen = upto.filter(account__vessel__in=each(span, None).values("vessel_id"))
        parts[Basis.SEEN] = _summed(seen.exclude(account__in=gauged))
    lines = []
    for stage in account.stages:
        left = stage.closing_ul
        for basis, of_stages in parts.items():
            number, pure_ul = of_stages.get(stage.stage, (0, 0))
            if number:
                lines.append(BasisLine(stage.stage, basis, number, pure_ul))
                left -= pure_ul
        if left:
            lines.append(BasisLine(stage.stage, Basis.BOOK, None, left))
    return lines


def takes_of(account: MonthAccount) -> list[TakeSaid]:
    """The stock takes that counted in a period and were posted, the earliest first."""
    span = span_of(account.period)
    return sorted((one for each in TAKES for one in each(span)), key=lambda one: (one.began, one.number))


def _by_stage(upto: QuerySet[AccountMonth], accounts: Collection[int]) -> dict[str, tuple[int, int]]:
    return _summed(upto.filter(account__in=accounts)) if accounts else {}


def _summed(rows: QuerySet[AccountMonth]) -> dict[str, tuple[int, int]]:
    """How many accounts hold something, and how much together, by stage."""
    found: dict[str, tuple[int, int]] = {}
    nets = rows.order_by().values_list("account_id", "stage").annotate(net=Sum("pure_ul"))
    for _, stage, net in nets:
        number, pure_ul = found.get(stage, (0, 0))
        found[stage] = (number + bool(net), pure_ul + net)
    return found
