"""How far a stock take is, place by place, and what is left before it can be posted. Worked out each time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from django.db.models import Count as Number
from django.db.models import QuerySet

from batches.counting.models import Count, StockTake
from batches.counting.walking import casks_of, left_of, lots_of, vessels_of
from distillery import figures

VESSELS: Final = "Vessels"
BOTTLED: Final = "Bottled stock"
# Things that ask for a recount or a reason that are named one by one.
MOST_SHOWN: Final = 50


@dataclass(frozen=True, slots=True)
class PlaceSoFar:
    """How many of how many are counted in one place; `warehouse` is blank for vessels and bottles."""

    name: str
    counted: int
    of: int
    warehouse: str = ""
    rows: Sequence[str] = ()
    weighed: int = 0


def so_far(take: StockTake) -> list[PlaceSoFar]:
    """Every place of the plan in walking order; of casks, how many were to be seen as it was planned."""
    planned, found = take.planned, []
    if planned["vessels"]:
        vessels = vessels_of(take)
        found.append(PlaceSoFar(VESSELS, sum(one.counts is not None for one in vessels), len(vessels)))
    seen: dict[str, int] = {}
    weighed: dict[str, int] = {}
    if planned["warehouses"]:
        # A recount stands in the same place, so things are counted by their first counts.
        casks = Count.objects.filter(take=take, what=Count.What.CASK).order_by()
        first = casks.filter(serial=1)
        seen = dict(first.values_list("place").annotate(Number("pk")))
        of_weights = casks.filter(how=Count.How.WEIGHED)
        weighed = dict(of_weights.values_list("place").annotate(Number("vessel", distinct=True)))
    for one in planned["warehouses"]:
        name = one["warehouse"]
        found.append(PlaceSoFar(name, seen.get(name, 0), one["casks"], name, tuple(one["rows"]), weighed.get(name, 0)))
    if planned["stocks"]:
        lots = lots_of(take)
        found.append(PlaceSoFar(BOTTLED, sum(one.counts is not None for one in lots), len(lots)))
    return found


def last_counts(take: StockTake) -> QuerySet[Count]:
    """The last count of each thing."""
    return Count.objects.filter(take=take, replaced_by__isnull=True)


def apart_of(take: StockTake) -> QuerySet[Count]:
    """Last counts that are apart from the book, and casks not found, in the order in which they were written."""
    counts = last_counts(take)
    apart = counts.filter(apart=True) | counts.filter(how=Count.How.NOT_FOUND)
    return apart.select_related("vessel", "stock", "person", "reason__person", "replaces").order_by(
        "what", "place", "pk"
    )


def elsewhere_of(take: StockTake) -> QuerySet[Count]:
    """Casks that were seen in a warehouse in which the books do not have them."""
    counts = last_counts(take).filter(what=Count.What.CASK, how=Count.How.SEEN).exclude(remark="")
    return counts.select_related("vessel").order_by("place", "pk")


def what_is_left(take: StockTake) -> list[str]:
    """What has to be done before it can be posted, in sentences; nothing where all is counted."""
    left = [f"{one.vessel.code} is not counted." for one in vessels_of(take) if one.counts is None]
    for place in take.planned["warehouses"]:
        name = place["warehouse"]
        if number := left_of(take, casks_of(take, name)).order_by().count():
            what = "are not counted, or not weighed" if take.weigh_one_in else "are not counted"
            left.append(f"{figures.count(number)} casks in {name} {what}; see each, or say that it was not found.")
    left += [
        f"{one.stock.name}, lot {one.lot or 'not known'}, is not counted."
        for one in lots_of(take)
        if one.counts is None
    ]
    for one in apart_of(take).filter(apart=True)[:MOST_SHOWN]:
        if one.measured_first is None:
            left.append(f"{named(one)} is apart from the book; count it again.")
        elif not hasattr(one, "reason"):
            left.append(f"{named(one)} is apart from the book after a second count; write a reason.")
    return left


def named(count: Count) -> str:
    """What was counted, in words."""
    if count.vessel is not None:
        return count.vessel.code if count.what == Count.What.VESSEL else f"Cask {count.vessel.code}"
    assert count.stock is not None
    return f"{count.stock.name}, lot {count.lot or 'not known'}"


@dataclass(frozen=True, slots=True)
class Together:
    """What a stock take comes to: how many things by how each was counted, and what was missing and what was over in
    all of them, microlitres of pure alcohol, each by itself.
    """

    by_how: dict[str, int]
    missing_ul: int
    over_ul: int
    last: int


def together(take: StockTake) -> Together:
    """The sums over all last counts."""
    by_how: dict[str, int] = dict(last_counts(take).order_by().values_list("how").annotate(Number("pk")))
    missing = over = 0
    measured = last_counts(take).filter(pure_ul__isnull=False)
    for one in measured.only("pure_ul", "book_ul", "evaporated_ul"):
        apart = one.missing_ul or 0
        missing, over = missing + max(apart, 0), over + max(-apart, 0)
    newest = Count.objects.filter(take=take).order_by("-pk").values_list("pk", flat=True).first() or 0
    return Together(by_how, missing, over, newest)
