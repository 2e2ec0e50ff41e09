"""How far a stock take is, place by place, and what is left before it can be posted. Worked out each time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from django.db.models import Count as Number
from django.db.models import F, Max, Q, QuerySet, Sum

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
    """Every place of the plan in walking order; of casks, how many were to be seen as it was planned. One question, and
    those of `lots_of` where bottles are counted.
    """
    planned, found = take.planned, []
    # A recount stands in the same place, so things are counted by their first counts.
    counts = Count.objects.filter(take=take).order_by().values_list("what", "place")
    in_each = counts.annotate(
        first=Number("pk", filter=Q(serial=1)),
        weighed=Number("vessel", filter=Q(how=Count.How.WEIGHED), distinct=True),
    )
    counted = {(what, place if what == Count.What.CASK else ""): both for what, place, *both in in_each}
    if planned["vessels"]:
        number, _ = counted.get((Count.What.VESSEL, ""), (0, 0))
        found.append(PlaceSoFar(VESSELS, number, len(planned["vessels"])))
    for one in planned["warehouses"]:
        name = one["warehouse"]
        seen, weighed = counted.get((Count.What.CASK, name), (0, 0))
        found.append(PlaceSoFar(name, seen, one["casks"], name, tuple(one["rows"]), weighed))
    if planned["stocks"]:
        lots = lots_of(take)
        found.append(PlaceSoFar(BOTTLED, sum(one.counts is not None for one in lots), len(lots)))
    return found


def last_counts(take: StockTake) -> QuerySet[Count]:
    """The last count of each thing."""
    return Count.objects.filter(take=take, replaced_by__isnull=True)


def _told_apart(take: StockTake, which: Q) -> QuerySet[Count]:
    counts = last_counts(take).filter(which)
    return counts.select_related("vessel", "stock", "person", "reason__person", "replaces").order_by(
        "what", "place", "pk"
    )


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
    for one in _told_apart(take, Q(apart=True))[:MOST_SHOWN]:
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
class Standing:
    """How a stock take stands, read once for whatever shows or signs it: its places; last counts that are apart from
    the book, and casks not found; casks seen in a warehouse in which the books do not have them; what it comes to.
    """

    places: Sequence[PlaceSoFar]
    apart: Sequence[Count]
    elsewhere: Sequence[Count]
    sums: Together


@dataclass(frozen=True, slots=True)
class Together:
    """What a stock take comes to: how many things by how each was counted, and what was missing and what was over in
    all of them, microlitres of pure alcohol, each by itself.
    """

    by_how: dict[str, int]
    missing_ul: int
    over_ul: int
    last: int


def standing_of(take: StockTake) -> Standing:
    """How a stock take stands now."""
    apart = Q(apart=True) | Q(how=Count.How.NOT_FOUND)
    elsewhere = Q(what=Count.What.CASK, how=Count.How.SEEN) & ~Q(remark="")
    told = list(_told_apart(take, apart | elsewhere))
    is_apart = [one.apart or one.how == Count.How.NOT_FOUND for one in told]
    return Standing(
        so_far(take),
        [one for one, its in zip(told, is_apart, strict=True) if its],
        [one for one, its in zip(told, is_apart, strict=True) if not its],
        together(take),
    )


def together(take: StockTake) -> Together:
    """The sums over all last counts."""
    # As `Count.missing_ul`; null, and left out of the sums, where nothing was measured.
    lacking = F("book_ul") - F("evaporated_ul") - F("pure_ul")
    rows = list(
        last_counts(take)
        .order_by()
        .alias(lacking=lacking)
        .values_list("how")
        .annotate(
            Number("pk"),
            Max("pk"),
            missing=Sum("lacking", filter=Q(lacking__gt=0)),
            over=Sum(-F("lacking"), filter=Q(lacking__lt=0)),
        )
    )
    # The newest of all counts is replaced by none, so it is among the last ones.
    return Together(
        {how: number for how, number, *_ in rows},
        sum(missing or 0 for _, _, _, missing, _ in rows),
        sum(over or 0 for *_, over in rows),
        max((newest for _, _, newest, *_ in rows), default=0),
    )
