"""How many casks and bottles the warehouse held as a month began and as it ended, beside the alcohol in them.

A line of a stock return has its count of casks and of cases (Excise Warehouse Return W1 of 08/2012, as far as it was
seen). What a case holds is not in the books, so that bottles are counted here. A cask counts while its book holds
alcohol.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from django.db.models import QuerySet, Sum

from batches.returns.months import Span
from distillery.plant.models import Kind, Stage
from ledger.models import AccountKind, AccountMonth, Leg

CASKS: Final = "casks"
BOTTLES: Final = "bottles"


@dataclass(frozen=True, slots=True)
class Containers:
    """So many `what` as the month began, and as it ended."""

    what: str
    opening: int
    closing: int


def containers(span: Span) -> dict[str, Containers]:
    """By class of goods what its goods lie in, of those that are counted. Four queries, whatever there is."""
    begun, ended = _until(span, ended=False), _until(span, ended=True)
    return {
        str(Stage.MATURING): Containers(CASKS, _casks(begun), _casks(ended)),
        str(Stage.BOTTLED): Containers(BOTTLES, _bottles(begun), _bottles(ended)),
    }


def _until(span: Span, *, ended: bool) -> QuerySet[Any]:
    """What accounts were moved by until the month began, or until it ended."""
    if span.periods:
        months = AccountMonth.objects.order_by()
        return months.filter(period__lte=span.periods[-1]) if ended else months.filter(period__lt=span.periods[0])
    # Stock periods cut through it, so that nothing but the movements themselves can say.
    return Leg.objects.order_by().filter(movement__happened_at__lt=span.ends if ended else span.starts)


def _casks(rows: QuerySet[Any]) -> int:
    there = rows.filter(stage=Stage.MATURING, account__vessel__kind=Kind.CASK)
    found: int = there.values("account").annotate(held=Sum("pure_ul")).filter(held__gt=0).count()
    return found


def _bottles(rows: QuerySet[Any]) -> int:
    there = rows.filter(account__kind=AccountKind.STOCK, account__bottle_pure_ul__gt=0)
    sums = there.values_list("account__bottle_pure_ul").annotate(Sum("pure_ul"))
    return sum(held // one for one, held in sums)
