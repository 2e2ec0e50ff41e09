"""The lists of the stores: every lot of material, and the entries of one lot's book."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import QuerySet
from django.urls import reverse

from batches.pages.records.shown import record_address, state_of, title_of
from batches.stores.amounts import number
from batches.stores.book import BookLine
from batches.stores.kinds import Act, MaterialKind
from batches.stores.models import Lot, StockEntry
from distillery import pages
from distillery.lists.columns import FigureColumn, ListColumn, MomentColumn, Plain
from distillery.lists.filters import DayFilter, HouseFilters, OneOfFilter, TextFilter
from distillery.lists.tables import HouseTable

IN_STOCK, USED_UP, BELOW, NOT_HERE = "in stock", "used up", "below nothing", "not received here"
GRAMS_A_KILOGRAM = 1000


@dataclass(frozen=True, slots=True)
class Amount:
    """Grams or pieces of a material."""

    kind: MaterialKind
    amount: int


class AmountColumn(FigureColumn):
    """Kilograms of what is weighed, whole pieces of what is counted; the unit stands in a column of its own."""

    def written(self, value: Any) -> str:
        return number(value.kind, value.amount)

    def plain_value(self, value: Any) -> Plain:
        return value.amount if value.kind.in_pieces else Decimal(value.amount) / GRAMS_A_KILOGRAM


def lot_address(lot: Lot) -> str:
    """The page of a lot."""
    return reverse("lot", args=[lot.kind, lot.code])


def state_of_lot(lot: Lot) -> pages.State | None:
    """The word beside a lot that is not simply in stock or used up."""
    if not lot.is_here:
        return pages.State(pages.Kind.WATCH, "Not received here")
    if lot.held < 0:
        return pages.State(pages.Kind.OUT, "Below nothing")
    return None


def _standing_of(lot: Lot) -> str:
    return "" if state_of_lot(lot) else "Used up" if lot.held == 0 else "In stock"


def unit_of(kind: MaterialKind) -> str:
    """What amounts of it are given in."""
    return "pieces" if kind.in_pieces else "kg"


class LotTable(HouseTable):
    """Lots of materials, those begun last first."""

    lot = ListColumn("Lot", "code", href=lot_address)
    material = ListColumn("Material", lambda row: row.kind.capitalize())
    what = ListColumn("What it is", "name")
    held = AmountColumn("In stock", lambda row: Amount(row.material, row.held) if row.is_here else None)
    received = AmountColumn("Received", lambda row: Amount(row.material, row.received) if row.is_here else None)
    unit = ListColumn("Unit", lambda row: unit_of(row.material))
    silo = ListColumn("Silo", "silo", href=lambda row: reverse("silo", args=[row.silo]) if row.silo else "")
    first = MomentColumn("First entry", "first_at", order=("first_at", "pk"))
    last = MomentColumn("Last entry", "last_at")
    state = ListColumn("State", _standing_of, state=state_of_lot)

    name = "lots"
    caption = "Lots of materials"
    nothing = "No materials yet. Write a malt intake or a material receipt, and its lots stand here."
    nothing_fits = "No lots match. Clear the filter."

    class Meta(HouseTable.Meta):
        order_by = ("-first",)


class StandingFilter(OneOfFilter):
    """Lots by what their book says."""

    def filter(self, rows: Any, value: Any) -> Any:
        here = rows.filter(receipts__gt=0)
        chosen = {
            IN_STOCK: here.filter(held__gt=0),
            USED_UP: here.filter(held=0),
            BELOW: here.filter(held__lt=0),
            NOT_HERE: rows.filter(receipts=0),
        }
        return chosen.get(value, rows)


class LotFilters(HouseFilters):
    """By material, what the book says, silo, the day of the first entry, number and name."""

    material = OneOfFilter(
        "kind", label="Material", choices=lambda: [(one.value, one.capitalize()) for one in MaterialKind]
    )
    state = StandingFilter(
        "pk", label="Now", choices=lambda: [(one, one.capitalize()) for one in (IN_STOCK, USED_UP, BELOW, NOT_HERE)]
    )
    silo = TextFilter("silo", label="Silo", lookup="iexact")
    since = DayFilter("first_at", label="First entry from")
    until = DayFilter("first_at", label="First entry to", until=True)
    q = TextFilter("code", label="Lot has")
    name = TextFilter("name", label="It is")


def lots() -> QuerySet[Lot]:
    """Every lot that anything is written of."""
    return Lot.objects.filter(first_at__isnull=False)


def said_of(entry: StockEntry) -> str:
    """What an entry does, in a word or two."""
    return {Act.RECEIVED: "Received", Act.ISSUED: "Issued to", Act.COUNTED: "Counted"}[Act(entry.act)]


class BookTable(HouseTable):
    """The book of one lot in order of time, with what it held after each entry."""

    happened = MomentColumn("Happened", "entry__happened_at")
    act = ListColumn("What", lambda row: said_of(row.entry))
    record = ListColumn(
        "Record", "entry__version__record__number", href=lambda row: record_address(row.entry.version.record)
    )
    step = ListColumn("Step", lambda row: title_of(row.entry.version.record.kind))
    amount = AmountColumn("In or out", lambda row: _amount(row, row.entry.amount))
    held = AmountColumn("Held after", lambda row: _amount(row, row.held) if row.entry.lot.is_here else None)
    person = ListColumn("Written by", lambda row: row.entry.version.person.shown_name)

    name = "book"
    caption = "Its book"
    nothing = "Nothing that stands is written of this lot. What was taken back is on the records that named it."


def _amount(row: BookLine, amount: int) -> Amount:
    return Amount(row.entry.lot.material, amount)


class TakenBackTable(HouseTable):
    """Entries that were taken back, each with the version that took it back."""

    happened = MomentColumn("Happened", "happened_at", order=("happened_at", "pk"))
    act = ListColumn("What", said_of)
    record = ListColumn("Record", "version__record__number", href=lambda row: record_address(row.version.record))
    amount = AmountColumn("In or out", lambda row: Amount(row.lot.material, row.amount))
    because = ListColumn("Taken back by", lambda row: row.taken_back.version.record.number)
    why = ListColumn("Reason", lambda row: row.taken_back.version.reason or "written again")

    name = "taken-back"
    caption = "Taken back"
    nothing = "Nothing was taken back."

    class Meta(HouseTable.Meta):
        order_by = ("-happened",)


def taken_back(lot: Lot) -> QuerySet[StockEntry]:
    """The entries of a lot that an opposite takes back, newest first."""
    return (
        StockEntry.objects.filter(lot=lot, taken_back__isnull=False)
        .select_related("lot", "version__record", "taken_back__version__record")
        .order_by("-happened_at", "-pk")
    )


class HistoryTable(HouseTable):
    """What was written about something, newest first."""

    record = ListColumn("Record", "number", href=record_address)
    what = ListColumn("What", lambda row: title_of(row.kind))
    happened = MomentColumn("Happened", "happened_from", order=("happened_from", "pk"))
    state = ListColumn("State", lambda row: "" if state_of(row) else "Complete", state=state_of)

    name = "history"
    caption = "What was written about it"
    nothing = "Nothing was written about it yet."

    class Meta(HouseTable.Meta):
        order_by = ("-happened",)
