"""The lists of the warehouse: every cask with its book, the gauges of one, and what was written about it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any

from django.db.models import Exists, OuterRef, QuerySet, Sum
from django.urls import reverse

from batches.pages.records.shown import record_address, state_of, title_of
from distillery.clock.reading import books_now
from distillery.lists.columns import (
    DayColumn,
    DifferenceColumn,
    FigureColumn,
    ListColumn,
    LitresColumn,
    LpaColumn,
    MomentColumn,
    Plain,
    StrengthColumn,
)
from distillery.lists.filters import DayFilter, HouseFilters, OneOfFilter, TextFilter
from distillery.lists.tables import HouseTable
from distillery.plant.lookup import values_of_casks
from distillery.plant.models import Cask
from distillery.rules import cask_loss
from ledger.models import Account, Balance
from ledger.statements.balances import holdings

FULL, EMPTY = "full", "empty"


def years_between(start: datetime, end: datetime | None = None) -> float:
    """Years from one moment to another, or to now."""
    return cask_loss.years_between(start, end or books_now())


def age_of(cask: Cask) -> float | None:
    """Years since a cask was filled, or None while it is not."""
    if cask.filled_at is None or cask.filled_at > books_now():
        return None
    return years_between(cask.filled_at)


def _filled_at(row: Any) -> datetime | None:
    return row.filled_at if row.held is not None else None


class FilledColumn(DayColumn):
    """The day a cask was filled; a word where it holds nothing."""

    def written(self, value: Any) -> str:
        return value if isinstance(value, str) else super().written(value)

    def plain_value(self, value: Any) -> Plain:
        return value if isinstance(value, str) else super().plain_value(value)


class CaskTable(HouseTable):
    """Casks with what the book says is in them."""

    number = ListColumn(
        "Cask",
        "vessel__code",
        order=("vessel__code",),
        href=lambda row: reverse("cask", args=[row.vessel.code]),
    )
    kind = ListColumn("Kind", "kind")
    warehouse = ListColumn("Warehouse", "warehouse", order=("warehouse", "pk"))
    filled = FilledColumn("Filled", lambda row: _filled_at(row) or ("" if row.held is not None else "Empty"))
    age = FigureColumn("Age", lambda row: age_of(row) if row.held is not None else None, places=1, unit="years")
    book = LpaColumn("Book", lambda row: row.held.pure_ul if row.held else None)
    litres = FigureColumn("Litres", lambda row: row.held.litres20 if row.held else None, places=1, unit="L at 20 °C")
    percent = FigureColumn("Strength", lambda row: row.held.percent20 if row.held else None, places=1, unit="% vol")
    regauged = DayColumn(
        "Last regauge", lambda row: row.held.last_gauge.happened_at if row.held and row.held.last_gauge else None
    )

    name = "casks"
    caption = "Casks"
    nothing = "No casks yet. They come with the plant that is loaded."
    nothing_fits = "No casks match. Clear the filter."
    adds_up_filtered = True

    class Meta(HouseTable.Meta):
        order_by = ("number",)

    def prepare(self, rows: Sequence[Any]) -> None:
        accounts = Account.objects.filter(vessel__in=[row.pk for row in rows])
        held = {one.account.vessel_id: one for one in holdings(accounts)}
        for row in rows:
            found = held.get(row.pk)
            row.held = found if found is not None and found.pure_ul else None

    def totals(self, rows: Iterable[Any]) -> Mapping[str, Any]:
        assert isinstance(rows, QuerySet)
        held = Balance.objects.filter(account__vessel__in=rows.order_by().values("pk"))
        return {"book": held.aggregate(all=Sum("balance_ul"))["all"] or 0}


class FullFilter(OneOfFilter):
    """Casks that hold something by their book, or that hold nothing."""

    def filter(self, rows: Any, value: Any) -> Any:
        if not value:
            return rows
        holds = Exists(Balance.objects.filter(account__vessel=OuterRef("pk"), balance_ul__gt=0))
        return rows.filter(holds if value == FULL else ~holds)


class CaskFilters(HouseFilters):
    """By warehouse, kind, whether they hold anything, the days they were filled, and number."""

    warehouse = OneOfFilter("warehouse", label="Warehouse", choices=lambda: values_of_casks("warehouse"))
    kind = OneOfFilter("kind", label="Kind of cask", choices=lambda: values_of_casks("kind"))
    state = FullFilter("pk", label="Now", choices=lambda: [(FULL, "Full"), (EMPTY, "Empty")])
    since = DayFilter("filled_at", label="Filled from")
    until = DayFilter("filled_at", label="Filled to", until=True)
    q = TextFilter("vessel__code", label="Number has")


class CaskGaugeTable(HouseTable):
    """What a cask was measured to hold, newest first."""

    taken = MomentColumn("Taken", "happened_at", order=("happened_at", "position", "pk"))
    record = ListColumn(
        "Record",
        "movement__record_number",
        href=lambda row: reverse("record", args=[row.movement.record_kind, row.movement.record_number]),
    )
    measured = LpaColumn("Measured", "pure_ul")
    book = LpaColumn("Book before", "book_ul")
    difference = DifferenceColumn("Difference", lambda row: row.book_ul - row.pure_ul)
    percent = StrengthColumn("Strength", "percent20_millionths")
    litres = LitresColumn("Litres", "litres20_ul")

    name = "gauges"
    caption = "Regauges"
    nothing = "Not regauged yet. Write a regauge to see what it has lost."

    class Meta(HouseTable.Meta):
        order_by = ("-taken",)


class HistoryTable(HouseTable):
    """What was written about a cask, newest first."""

    record = ListColumn("Record", "number", href=record_address)
    what = ListColumn("What", lambda row: title_of(row.kind))
    happened = MomentColumn("Happened", "happened_from", order=("happened_from", "pk"))
    state = ListColumn("State", lambda row: "" if state_of(row) else "Complete", state=state_of)

    name = "history"
    caption = "What was written about it"
    nothing = "Nothing was written about this cask yet. Its filling is the first."

    class Meta(HouseTable.Meta):
        order_by = ("-happened",)
