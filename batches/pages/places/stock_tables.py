"""The lists of bottling and dispatch: bottled stock, and removals with the duty on each."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from django.db.models import QuerySet

from batches.models import State
from batches.pages.records.record_table import RecordTable, typed_column
from batches.pages.records.shown import record_address, state_of
from batches.sheets.sheet import Sheet
from distillery.lists.columns import FigureColumn, ListColumn, LpaColumn, MomentColumn, Plain, PoundColumn
from distillery.lists.filters import DayFilter, HouseFilters, MonthFilter, OneOfFilter
from distillery.lists.tables import HouseTable
from ledger.models import Account, AccountKind, Duty
from ledger.posting.duties import DutyNow, duty_now, duty_sum
from ledger.views.ways import account_href


class StockTable(HouseTable):
    """What is bottled and in bond."""

    stock = ListColumn("Stock", "name", href=account_href, order=("name", "pk"))
    bottles = FigureColumn("Bottles", lambda row: bottles_in(row))
    book = LpaColumn("Book", lambda row: _held(row))

    name = "stock"
    caption = "Bottled, in bond"
    nothing = "Nothing is bottled yet. Stock comes with a bottling."
    adds_up = True

    class Meta(HouseTable.Meta):
        order_by = ("stock",)

    def totals(self, rows: Iterable[Any]) -> Mapping[str, Any]:
        stocks = list(rows)
        if not stocks:
            return {}
        return {"bottles": sum(map(bottles_in, stocks)), "book": sum(map(_held, stocks))}


def _held(row: Account) -> int:
    return row.balance.balance_ul if hasattr(row, "balance") else 0


def bottles_in(row: Account) -> int:
    """Whole bottles that the book of a stock holds."""
    return _held(row) // row.bottle_pure_ul if row.bottle_pure_ul else 0


def stocks() -> QuerySet[Account]:
    """Every account of bottled stock, with what it holds."""
    return Account.objects.filter(kind=AccountKind.STOCK).select_related("balance")


class BottlingTable(RecordTable):
    """The bottlings, newest first."""

    name = "bottlings"


class DutyColumn(PoundColumn):
    """Duty in pounds; a sentence where it is none, or not known."""

    def written(self, value: Any) -> str:
        return value if isinstance(value, str) else super().written(value)

    def plain_value(self, value: Any) -> Plain:
        return value if isinstance(value, str) else super().plain_value(value)


class RemovalTable(HouseTable):
    """What left the site, newest first, with the duty on it."""

    number = ListColumn("Removal", "number", href=record_address, state=state_of)
    left = MomentColumn("Left", "happened_from", order=("happened_from", "pk"))
    alcohol = LpaColumn("Duty on", lambda row: sum(one.pure_ul for one in row.owed) if row.owed else None, places=4)
    duty = DutyColumn("Duty", lambda row: owed_in_words(row.owed))

    name = "removals"
    caption = "Removals"
    note = "duty as worked out here; the law and the officer decide"
    nothing = "Nothing has left yet. A removal takes bottles out of the stock in bond."
    nothing_fits = "No removals match. Clear the filter."

    class Meta(HouseTable.Meta):
        order_by = ("-left",)

    def __init__(self, data: Any, *, sheet: Sheet, **more: Any) -> None:
        gone = sheet.bottles_leave
        assert gone is not None, "bottles leave by the sheet of removals"
        self.sheet = sheet
        typed = [
            ("product", typed_column(sheet.field(gone.product))),
            ("bottles", typed_column(sheet.field(gone.bottles))),
            ("why", typed_column(sheet.field(gone.left_for))),
        ]
        sequence = ("number", "left", *(name for name, _ in typed), "alcohol", "duty")
        super().__init__(data, extra_columns=typed, sequence=sequence, **more)

    def prepare(self, rows: Sequence[Any]) -> None:
        owed = duties_of(self.sheet.kind, [row.number for row in rows])
        for row in rows:
            row.typed = json.loads(getattr(row, "standing", None) or "{}")
            row.owed = owed.get(row.number, [])

    def totals(self, rows: Iterable[Any]) -> Mapping[str, Any]:
        assert isinstance(rows, QuerySet)
        owed = [one for each in duties_of(self.sheet.kind, rows.order_by().values("number")).values() for one in each]
        if not owed:
            return {}
        return {"alcohol": sum(one.pure_ul for one in owed), "duty": owed_in_words(owed)}


def duties_of(kind: str, numbers: Any) -> dict[str, list[DutyNow]]:
    """The duties that stand of the removals of a kind, by their numbers."""
    found: dict[str, list[DutyNow]] = defaultdict(list)
    lines = Duty.objects.standing().filter(movement__record_kind=kind, movement__record_number__in=numbers)
    for line in lines.select_related("movement").order_by("pk"):
        found[line.movement.record_number].append(duty_now(line, line.movement))
    return found


def owed_in_words(owed: Sequence[DutyNow]) -> int | str:
    """Pence owed together, 'none' where there is no duty, or 'not known' where a part of it is not."""
    if not owed:
        return "none"
    pence = duty_sum(owed).pence
    return "not known" if pence is None else pence


class RemovalFilters(HouseFilters):
    """By month, days and state."""

    month = MonthFilter("happened_from")
    since = DayFilter("happened_from", label="From")
    until = DayFilter("happened_from", label="To", until=True)
    state = OneOfFilter("state", label="State", choices=lambda: State.choices)
