"""The way one walks at a stock take: vessels in order, casks by warehouse, row and tier, bottles by product and lot.

A cask is on the list of its warehouse while its book holds something there, or once it was counted there. Questions
are asked of a page of casks at a time and cost the same however many there are.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import TypeVar

from django.db.models import Exists, F, OuterRef, QuerySet, Value
from django.db.models.functions import Mod

from batches.counting.models import Count, StockTake
from batches.tracing.bottled_lots import bottled_lots
from distillery.plant.models import Cask, Vessel
from ledger.models import Account, Balance

Thing = TypeVar("Thing")


@dataclass(frozen=True, slots=True)
class Counts:
    """The counts of one thing: the last one, and the first by which it was measured, where that is another."""

    last: Count
    first: Count | None = None

    @property
    def asks_recount(self) -> bool:
        """True where it is apart and was counted once."""
        return self.last.apart and self.first is None

    @property
    def asks_reason(self) -> bool:
        """True where it is still apart after it was counted again, and nobody said why."""
        return self.last.apart and self.first is not None and not hasattr(self.last, "reason")


@dataclass(frozen=True, slots=True)
class VesselToCount:
    """One vessel of a plan."""

    vessel: Vessel
    counts: Counts | None


@dataclass(frozen=True, slots=True)
class LotToCount:
    """One lot of bottles of a plan; its book is not shown before it is counted."""

    stock: Account
    lot: str
    book_bottles: int
    counts: Counts | None


def casks_lying(warehouse: str, rows: Sequence[str] = ()) -> QuerySet[Cask]:
    """The casks that hold something by their book and lie in a warehouse, or in some rows of it, in walking order."""
    full = Balance.objects.filter(account__vessel=OuterRef("pk"), balance_ul__gt=0)
    casks = Cask.objects.filter(Exists(full), warehouse=warehouse).select_related("vessel")
    casks = casks.filter(row__in=rows) if rows else casks
    return casks.order_by("warehouse", "row", "tier", "pk")


def casks_of(take: StockTake, warehouse: str) -> QuerySet[Cask]:
    """The casks of a warehouse that a stock take is to see. Raises LookupError for one that it does not go into."""
    return casks_lying(warehouse, rows_of(take, warehouse))


def rows_of(take: StockTake, warehouse: str) -> list[str]:
    """The rows of a warehouse that are walked; none for all of them. Raises LookupError."""
    for one in take.planned["warehouses"]:
        if one["warehouse"] == warehouse:
            return list(one["rows"])
    raise LookupError(f"{take.number} does not go into {warehouse}.")


def left_of(take: StockTake, casks: QuerySet[Cask]) -> QuerySet[Cask]:
    """Those of these casks that are not counted yet, and those of the sample that are not weighed yet."""
    counted = Count.objects.filter(take=take, vessel=OuterRef("pk"))
    if not take.weigh_one_in:
        return casks.filter(~Exists(counted))
    in_sample = casks.annotate(turn=Mod(F("pk") + Value(take.serial), Value(take.weigh_one_in)))
    done = Count.objects.filter(take=take, vessel=OuterRef("pk")).exclude(how=Count.How.SEEN)
    return in_sample.exclude(Exists(counted), turn__gt=0).exclude(Exists(done), turn=0)


def is_weighed(take: StockTake, cask: Cask) -> bool:
    """True of a cask that belongs to the sample: every so many-th, so that nobody chooses them."""
    return bool(take.weigh_one_in) and (cask.pk + take.serial) % take.weigh_one_in == 0


def counts_of(take: StockTake, vessels: Iterable[int]) -> dict[int, Counts]:
    """The counts of vessels or casks by the vessel's key; those not counted yet are left out. One query."""
    found = Count.objects.filter(take=take, vessel__in=list(vessels))
    return _by(_told(found), lambda one: one.vessel_id or 0)


def counts_of_lots(take: StockTake) -> dict[tuple[int, str], Counts]:
    """The counts of lots of bottles by the stock's key and the lot. One query."""
    found = Count.objects.filter(take=take, what=Count.What.BOTTLES)
    return _by(_told(found), lambda one: (one.stock_id or 0, one.lot.casefold()))


def vessels_of(take: StockTake) -> list[VesselToCount]:
    """The vessels of a plan in walking order, each with its counts."""
    vessels = list(Vessel.objects.filter(code__in=take.planned["vessels"]).order_by("order", "code"))
    counts = counts_of(take, [one.pk for one in vessels])
    return [VesselToCount(one, counts.get(one.pk)) for one in vessels]


def lots_of(take: StockTake) -> list[LotToCount]:
    """The lots of a plan by product and lot with their counts: those with bottles by their book, and those counted."""
    codes = take.planned["stocks"]
    if not codes:
        return []
    counts = counts_of_lots(take)
    stocks = list(Account.objects.filter(code__in=codes).order_by("name"))
    found = [
        LotToCount(one.stock, one.lot, one.held, counts.get((one.stock.pk, one.lot.casefold())))
        for one in bottled_lots(stocks)
    ]
    return [one for one in found if one.book_bottles > 0 or one.counts is not None]


def _told(found: QuerySet[Count]) -> QuerySet[Count]:
    return found.select_related("person", "reason__person").order_by("pk")


def _by(counts: Iterable[Count], key: Callable[[Count], Thing]) -> dict[Thing, Counts]:
    first: dict[Thing, Count] = {}
    last: dict[Thing, Count] = {}
    for one in counts:
        if one.pure_ul is not None:
            first.setdefault(key(one), one)
        last[key(one)] = one
    return {
        thing: Counts(one, found if (found := first.get(thing)) is not one else None) for thing, one in last.items()
    }
