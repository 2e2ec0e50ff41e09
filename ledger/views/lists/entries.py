"""The entries of one account with its running balance, and the gauges of its vessel; newest first."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from django.db.models import QuerySet, Sum
from django.urls import reverse

from distillery import figures, pages
from distillery.clock.reading import LATE_AFTER, books_time
from distillery.lists.columns import (
    DifferenceColumn,
    FigureColumn,
    ListColumn,
    LitresColumn,
    LpaColumn,
    MomentColumn,
    StrengthColumn,
)
from distillery.lists.filters import HouseFilters, OneOfFilter
from distillery.lists.tables import HouseTable
from ledger.models import Entry, Gauge, Movement, RunningBalance
from ledger.statements.of_movements import taken_back_by
from ledger.views.lists.filters import people
from ledger.views.told_of_accounts import why_late
from ledger.views.ways import account_href, record_href

WHAT = {Entry.GAUGING: "Found at the gauge", Entry.LOSS: "Known loss", Entry.DIFFERENCE: "Difference"}


def from_closed(movement: Movement) -> pages.State | None:
    """When it truly happened, where a close came between and a later period carries it."""
    true_at = movement.true_at
    return None if true_at is None else pages.State(pages.Kind.LOCKED, f"of {figures.moment(true_at, year=True)}")


def _late(row: RunningBalance) -> pages.State | None:
    """How much later than it happened an entry was written, and why where somebody was asked.

    Where the books have a clock of their own, only what somebody was asked about is measured by it: what was loaded
    into them came before that clock began to be used.
    """
    movement, why = row.leg.movement, row.why_late  # type: ignore[attr-defined]
    after = (books_time(movement.written_at) if why else movement.written_at) - movement.took_place_at
    if after <= LATE_AFTER:
        return None
    return pages.late(f"{figures.span(after)}: {why}" if why else figures.span(after))


def _what(row: RunningBalance) -> str:
    leg, movement = row.leg, row.leg.movement
    if movement.restates_id and not movement.corrects_id and not row.is_struck:  # type: ignore[attr-defined]
        return "Gauging restated"
    return WHAT.get(Entry(leg.entry)) or movement.operation.capitalize()


def _struck(row: RunningBalance) -> pages.State | None:
    if row.leg.movement.corrects_id:
        return pages.State(pages.Kind.STRUCK, f"takes back {row.leg.movement.corrects_id}")
    return pages.State(pages.Kind.STRUCK, "struck") if row.is_struck else None  # type: ignore[attr-defined]


class EntryTable(HouseTable):
    """What came into an account and what left it, with what it held after each."""

    happened = MomentColumn(
        "Happened",
        "leg__happened_at",
        order=("happened_at", "position", "pk"),
        state=lambda row: from_closed(row.leg.movement),
    )
    written = MomentColumn("Written", "leg__movement__written_at", state=_late)
    person = ListColumn("By", "leg__movement__person__shown_name")
    what = ListColumn("What", _what, state=_struck)
    record = ListColumn(
        "Record",
        "leg__movement__record_number",
        href=lambda row: record_href(row.leg.movement.record_kind, row.leg.movement.record_number),
    )
    other = ListColumn(
        "Other side",
        "leg__other__name",
        href=lambda row: account_href(row.leg.other) if row.leg.other else "",
        none="Several",
    )
    came = LpaColumn("In", lambda row: row.leg.pure_ul if row.leg.pure_ul > 0 else None, none="-")
    went = LpaColumn("Out", lambda row: -row.leg.pure_ul if row.leg.pure_ul < 0 else None, none="-")
    balance = LpaColumn("Balance", "balance_ul")
    movement = FigureColumn(
        "Movement",
        "leg__movement__pk",
        href=lambda row: reverse("movement", kwargs={"number": row.leg.movement_id}),
    )

    name = "entries"
    caption = "Entries"
    note = "litres of pure alcohol, newest first"
    nothing = "No entries in this month. Choose another above."
    nothing_fits = "No entries match. Clear the filter."
    adds_up = True

    class Meta(HouseTable.Meta):
        order_by = ("-happened",)

    def prepare(self, rows: Sequence[Any]) -> None:
        struck = taken_back_by([row.leg.movement_id for row in rows])
        reasons = why_late({row.leg.movement.record_number for row in rows})
        for row in rows:
            row.is_struck = row.leg.movement_id in struck
            row.why_late = reasons.get(row.leg.movement.record_number, "")

    def totals(self, rows: Iterable[Any]) -> Mapping[str, Any]:
        assert isinstance(rows, QuerySet)
        came = rows.filter(leg__pure_ul__gt=0).aggregate(all=Sum("leg__pure_ul"))["all"]
        went = rows.filter(leg__pure_ul__lt=0).aggregate(all=Sum("leg__pure_ul"))["all"]
        return {"came": came or 0, "went": -(went or 0)} if came or went else {}


class EntryFilters(HouseFilters):
    """By what they say and who wrote them; the month is the page's own."""

    what = OneOfFilter("leg__entry", label="What", choices=lambda: Entry.choices)
    person = OneOfFilter("leg__movement__person__username", label="Written by", choices=people)


class GaugeTable(HouseTable):
    """What a vessel was measured to hold."""

    happened = MomentColumn("Happened", "happened_at", order=("happened_at", "position", "pk"))
    record = ListColumn(
        "Record",
        "movement__record_number",
        href=lambda row: record_href(row.movement.record_kind, row.movement.record_number),
    )
    litres = LitresColumn("Bulk", "litres20_ul")
    percent = StrengthColumn("Strength", lambda row: row.percent20_millionths if row.pure_ul else None, none="Empty")
    alcohol = LpaColumn("Alcohol", "pure_ul")
    doubt = LpaColumn("±", lambda row: 2 * row.uncertainty_ul)
    book = LpaColumn("Book it met", "book_ul")
    found = DifferenceColumn(
        "Difference",
        lambda row: row.book_ul - row.pure_ul if row.role == "before" else None,
        none="Closing gauge",
    )

    name = "gauges"
    caption = "Gauges"
    note = "newest first; ± is two standard uncertainties"
    nothing = "Not gauged yet. Each step that takes from it or fills it gauges it."

    class Meta(HouseTable.Meta):
        order_by = ("-happened",)


def gauges_of(account_id: int) -> QuerySet[Gauge]:
    """The gauges of a vessel that stand."""
    return Gauge.objects.standing().filter(account=account_id).select_related("movement")
