"""The list of bottled stock by lot: what is in bond of each lot, in cases and bottles."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from django.urls import reverse

from batches.tracing.bottled_lots import BottledLot, bottled_lots
from distillery import figures
from distillery.lists.columns import FigureColumn, ListColumn, LpaColumn, MomentColumn
from distillery.lists.filters import HouseFilters, RowFilter
from distillery.lists.tables import HouseTable
from distillery.process.bottling import cased
from ledger.models import Account, AccountKind

IN_BOND, ALL_GONE = "in bond", "all gone"


def _bottling(row: BottledLot) -> str:
    return reverse("record", args=[row.record_kind, row.record_number]) if row.record_number else ""


def in_cases(row: BottledLot) -> str:
    """Full cases and loose bottles of what is in bond; blank where it is not known how many go in a case."""
    if not row.bottles_a_case or not row.held:
        return ""
    found = cased(bottles=row.held, bottles_a_case=row.bottles_a_case)
    loose = f" and {found.loose} loose" if found.loose else ""
    return f"{figures.count(found.cases)} of {row.bottles_a_case}{loose}"


class LotStockTable(HouseTable):
    """Bottled stock by product and lot."""

    stock = ListColumn("Stock", lambda row: row.stock.name)
    lot = ListColumn("Lot code", lambda row: row.lot, href=_bottling, none="not named")
    since = MomentColumn("Bottled", lambda row: row.since)
    came = FigureColumn("Came in", lambda row: row.came)
    left = FigureColumn("Left", lambda row: row.left)
    bottles = FigureColumn("Bottles in bond", lambda row: row.held)
    cases = ListColumn("Cases", in_cases)
    alcohol = LpaColumn("By the label", lambda row: row.pure_ul)

    name = "lots"
    caption = "Bottled stock by lot"
    note = "what left without its lot is taken from the oldest lot in bond"
    nothing = "Nothing is bottled yet. A lot comes with a bottling."
    nothing_fits = "No lots match. Clear the filter."
    adds_up = True

    def totals(self, rows: Iterable[Any]) -> Mapping[str, Any]:
        lots = list(rows)
        if not lots:
            return {}
        return {"bottles": sum(one.held for one in lots), "alcohol": sum(one.pure_ul for one in lots)}


def _stocks() -> list[tuple[str, str]]:
    names = Account.objects.filter(kind=AccountKind.STOCK).order_by("name").values_list("name", flat=True)
    return [(name, name) for name in names]


class LotStockFilters(HouseFilters):
    """By stock, and by whether anything of the lot is left."""

    stock = RowFilter(label="Stock", read=lambda row: row.stock.name, choices=_stocks)
    there = RowFilter(
        label="Lots",
        read=lambda row: IN_BOND if row.held else ALL_GONE,
        choices=lambda: [(IN_BOND, "in bond"), (ALL_GONE, "all gone")],
    )


def lots() -> list[BottledLot]:
    """Every lot, those that are all gone last."""
    return sorted(bottled_lots(), key=lambda one: not one.held)
