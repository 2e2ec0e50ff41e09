"""The lists of stock takes: all of them, the walks through each place, and every count with the book it met."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any
from urllib.parse import urlencode

from django.urls import reverse

from batches.counting.models import Count, Ending, StockTake
from batches.counting.standing import named
from batches.counting.walking import Counts, counts_of, is_weighed
from batches.pages.places.cask_table import head_of
from distillery import figures, pages
from distillery.lists.columns import DayColumn, DifferenceColumn, FigureColumn, ListColumn, LpaColumn, MomentColumn
from distillery.lists.filters import HouseFilters, OneOfFilter
from distillery.lists.tables import HouseTable

RECOUNT = pages.State(pages.Kind.WATCH, "Count again")
REASON = pages.State(pages.Kind.ACT, "Write a reason")
APART = pages.State(pages.Kind.OUT, "Apart")
TO_WEIGH = pages.State(pages.Kind.OPEN, "To be weighed")
NOT_FOUND = pages.State(pages.Kind.MISSING, "Not found")
# Kept out of the words of what is simply counted.
TO_COUNT = "to be counted"


def take_state(take: Any) -> pages.State:
    """Where a stock take stands, in a word."""
    ended = getattr(take, "ending", None)
    if ended is None:
        return pages.State(pages.Kind.OPEN, "Counting")
    return pages.CLOSED if ended.how == Ending.How.POSTED else pages.State(pages.Kind.STRUCK, "Given up")


def counts_state(counts: Counts | None) -> pages.State | None:
    """What the counts of one thing ask for; None where they ask for nothing."""
    if counts is None:
        return None
    if counts.last.how == Count.How.NOT_FOUND:
        return NOT_FOUND
    if counts.asks_recount:
        return RECOUNT
    if counts.asks_reason:
        return REASON
    return APART if counts.last.apart else None


def how_said(counts: Counts | None) -> str:
    """How and by whom it was counted last."""
    if counts is None:
        return TO_COUNT
    last = counts.last
    return f"{last.get_how_display().lower()} by {last.person.shown_name}, {figures.moment(last.at)}"


def _names(take: Any) -> str:
    ended = getattr(take, "ending", None)
    if ended is None:
        return ""
    return f"{ended.person.shown_name} and {ended.second.shown_name}" if ended.second else ended.person.shown_name


def places_said(take: StockTake) -> str:
    """What is counted, shortly."""
    planned = take.planned
    parts = [f"{len(planned['vessels'])} vessels"] if planned["vessels"] else []
    for one in planned["warehouses"]:
        rows = f", row {', '.join(one['rows'])}" if one["rows"] else ""
        parts.append(f"{one['warehouse']}{rows}")
    if planned["stocks"]:
        parts.append(f"{len(planned['stocks'])} bottled stock{'s' if len(planned['stocks']) > 1 else ''}")
    return "; ".join(parts)


class TakeTable(HouseTable):
    """Every stock take, the newest first."""

    number = ListColumn("Stock take", "number", href=lambda row: reverse("stock_take", args=[row.serial]))
    day = DayColumn("Day", "day", order=("day", "pk"))
    places = ListColumn("Counts", places_said)
    by = ListColumn("Planned by", "person__shown_name")
    state = ListColumn("State", lambda _row: "", state=take_state)
    names = ListColumn("Names", _names)

    name, caption = "takes", "Stock takes"
    nothing = "No stock was taken yet. Start a stock take."

    class Meta(HouseTable.Meta):
        order_by = ("-day",)


def book_of(count: Count) -> int | None:
    """The book that a count met; None of a cask that was only seen, which may still be weighed."""
    return None if count.how == Count.How.SEEN else count.book_ul


def _book(counts: Counts | None) -> int | None:
    return book_of(counts.last) if counts is not None else None


def _found(counts: Counts | None) -> int | None:
    return counts.last.pure_ul if counts is not None else None


def _apart(counts: Counts | None) -> int | None:
    return counts.last.missing_ul if counts is not None else None


class VesselWalkTable(HouseTable):
    """The vessels of a stock take in the order in which one walks; the book of one is shown once it is counted."""

    code = ListColumn(
        "Vessel",
        lambda row: row.vessel.code,
        href=lambda row: row.href,
        state=lambda row: counts_state(row.counts),
    )
    title = ListColumn("Name", lambda row: row.vessel.name)
    counted = ListColumn("Counted", lambda row: how_said(row.counts))
    found = LpaColumn("Found", lambda row: _found(row.counts))
    book = LpaColumn("Book", lambda row: _book(row.counts))
    apart = DifferenceColumn("Difference", lambda row: _apart(row.counts))

    name, caption = "vessels", "Vessels in order"
    note = "a book is shown beside a saved count alone"
    nothing = "This stock take counts no vessel."


class LotWalkTable(HouseTable):
    """The lots of bottles of a stock take by product and lot."""

    stock = ListColumn(
        "Stock", lambda row: row.stock.name, href=lambda row: row.href, state=lambda row: counts_state(row.counts)
    )
    lot = ListColumn("Lot", lambda row: row.lot, none="not known")
    counted = ListColumn("Counted", lambda row: how_said(row.counts))
    found = FigureColumn("Bottles found", lambda row: row.counts.last.bottles if row.counts else None)
    book = FigureColumn("Bottles by the book", lambda row: row.counts.last.book_bottles if row.counts else None)
    apart = DifferenceColumn("Difference", lambda row: _apart(row.counts))

    name, caption = "lots", "Bottled stock by product and lot"
    note = "a book is shown beside a saved count alone"
    nothing = "This stock take counts no bottled stock."


class CaskWalkTable(HouseTable):
    """The casks of a warehouse in the order in which they lie."""

    number = ListColumn(
        "Cask", "vessel__code", href=lambda row: row.href, state=lambda row: row.says or counts_state(row.counts)
    )
    row = ListColumn("Row", "row", none="not recorded")
    tier = ListColumn("Tier", "tier", none="not recorded")
    head = ListColumn("On the head", head_of)
    kind = ListColumn("Kind", "kind")
    counted = ListColumn("Counted", lambda row: how_said(row.counts))
    found = LpaColumn("Weighed", lambda row: _found(row.counts))
    book = LpaColumn("Book", lambda row: _book(row.counts))

    name, caption = "walk", "Casks where they lie"
    note = "a book is shown beside a saved count alone"
    nothing = "No full cask lies here by the books."
    nothing_fits = "No casks match. Clear the filter."

    def __init__(self, data: Any, *, take: StockTake, place: str, **more: Any) -> None:
        self.take, self.place = take, place
        super().__init__(data, **more)

    def prepare(self, rows: Sequence[Any]) -> None:
        found = counts_of(self.take, [one.pk for one in rows])
        for row in rows:
            row.counts = found.get(row.pk)
            weighed = row.counts is not None and row.counts.last.how != Count.How.SEEN
            row.says = TO_WEIGH if is_weighed(self.take, row) and not weighed else None
            row.href = cask_address(self.take, self.place, row.vessel.code)


def cask_address(take: StockTake, place: str, code: str) -> str:
    """The page on which one cask of a place is weighed, or said not to be found."""
    return f"{reverse('stock_take_cask', args=[take.serial, code])}?{urlencode({'in': place})}"


class CountTable(HouseTable):
    """Every count of a stock take as it was written, replaced ones too, with the book that each met."""

    what = ListColumn("What", named, state=lambda row: APART if row.apart else None)
    place = ListColumn("In", "place")
    at = MomentColumn("Counted", "at")
    how = ListColumn("How", lambda row: row.get_how_display())
    by = ListColumn("By", "person__shown_name")
    bottles = FigureColumn("Bottles", "bottles")
    found = LpaColumn("Found", "pure_ul", places=4)
    book = LpaColumn("Book", book_of, places=4)
    evaporated = LpaColumn("Usual evaporation", lambda row: row.evaporated_ul or None, places=4)
    apart = DifferenceColumn("Difference", "missing_ul", places=4)
    reason = ListColumn("Reason, or what was remarked", lambda row: row.why)
    again = ListColumn("Count", lambda row: "first" if row.serial == 1 else f"{row.serial}, again")

    name, caption = "counts", "Counts as they were written"
    nothing = "Nothing is counted yet."
    nothing_fits = "No counts match. Clear the filter."

    def prepare(self, rows: Sequence[Any]) -> None:
        for row in rows:
            row.why = row.reason.text if hasattr(row, "reason") else row.remark


class CountFilters(HouseFilters):
    """By what was counted, and how."""

    what = OneOfFilter("what", label="What", choices=lambda: Count.What.choices)
    how = OneOfFilter("how", label="How", choices=lambda: Count.How.choices)
