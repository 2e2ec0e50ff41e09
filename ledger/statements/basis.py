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
from typing import Any

from django.db.models import Exists, Max, OuterRef, QuerySet

from distillery.plant.models import Kind
from ledger.models import Gauge, MeasuredFlow, Movement
from ledger.periods.calendar import Calendar, closing_of


class Basis(StrEnum):
    """By what it is known, the best first."""

    GAUGED = "gauged"
    COUNTED = "counted"
    SEEN = "seen"
    BOOK = "book"


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
    """When each account was gauged last within a period, or a cask was weighed as it was filled; of these accounts
    alone where they are given.
    """
    # What was taken back later than the period is still what its account rests on.
    taken_back = Movement.objects.filter(corrects=OuterRef("movement"), period__lte=period)
    gauges = Gauge.objects.filter(
        ~Exists(taken_back), movement__period=period, happened_at__gte=span.starts, happened_at__lt=span.ends
    )
    fills = MeasuredFlow.objects.filter(
        ~Exists(taken_back),
        movement__period=period,
        movement__happened_at__gte=span.starts,
        movement__happened_at__lt=span.ends,
        taker__vessel__kind=Kind.CASK,
    )
    if accounts is not None:
        gauges, fills = gauges.filter(account__in=accounts), fills.filter(taker__in=accounts)
    found = dict(fills.order_by().values_list("taker_id").annotate(Max("movement__happened_at")))
    for account, at in gauges.order_by().values_list("account_id").annotate(Max("happened_at")):
        found[account] = max(at, found.get(account, at))
    return found


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


def takes_of(period: str) -> list[TakeSaid]:
    """The stock takes that counted in a period and were posted, the earliest first."""
    span = span_of(period)
    return sorted((one for each in TAKES for one in each(span)), key=lambda one: (one.began, one.number))
