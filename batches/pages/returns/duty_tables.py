"""The lists of the duty account: every removal with what was declared and what was measured of it, and what may become
due on what is missing."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from django.urls import reverse

from batches.pages.places.stock_tables import DutyColumn
from batches.pages.returns.tables import NOT_KNOWN, RateColumn, ReturnLitresColumn, ReturnLpaColumn
from batches.returns.declared import Declared
from batches.returns.losses import MayBeDue
from distillery import figures
from distillery.lists.columns import DayColumn, FigureColumn, ListColumn, LpaColumn, MomentColumn
from distillery.lists.tables import HouseTable
from ledger.views.ways import record_href


def enquiry_address(number: str) -> str:
    """The page of an enquiry, by its number."""
    return reverse("enquiry", kwargs={"number": number})


def _owed(row: Declared) -> int | str:
    return NOT_KNOWN if row.line.pence is None else row.line.pence


class RemovalDutyTable(HouseTable):
    """Each line of each removal that bears duty."""

    record = ListColumn("Removal", "line__record", href=lambda row: record_href(row.line.record_kind, row.line.record))
    left = MomentColumn("Duty point", "line__at", order=("line__at",))
    kind = ListColumn("Left for", "line__removal")
    of = ListColumn("Of", lambda row: row.line.of if row.line.carried else "", none="this month")
    tax_type = ListColumn("Tax type", "line__tax_type", none=NOT_KNOWN)
    volume = ReturnLitresColumn("Volume", "line__litres20_ul")
    strength = FigureColumn("Declared strength", "line__percent", places=1, unit="% vol")
    alcohol = ReturnLpaColumn("Declared alcohol", "line__pure_ul")
    rate = RateColumn("Rate", "line__rate", none=NOT_KNOWN)
    duty = DutyColumn("Duty", _owed)

    name = "removals"
    caption = "Removals that bear duty"
    note = "one by one, each cut to the penny; what takes a line back is below nothing"
    nothing = "Nothing left in the month that bears duty."
    adds_up = True

    def totals(self, rows: Iterable[Any]) -> Mapping[str, Any]:
        found: list[Declared] = list(rows)
        if not found:
            return {}
        known = [one.line.pence for one in found if one.line.pence is not None]
        return {
            "volume": sum(one.line.litres20_ul for one in found),
            "alcohol": sum(one.line.pure_ul for one in found),
            "duty": sum(known) if len(known) == len(found) else NOT_KNOWN,
        }


class MeasuredTable(HouseTable):
    """Measured beside declared."""

    record = ListColumn("Removal", "line__record", href=lambda row: record_href(row.line.record_kind, row.line.record))
    declared = FigureColumn("Declared strength", "line__percent", places=1, unit="% vol")
    by_label = ListColumn("By", lambda row: "label" if row.label else "measured, cut down to one decimal")
    measured = FigureColumn("Measured strength", "measured", places=2, unit="% vol", none="not measured")
    by = ListColumn(
        "Measured by",
        lambda row: f"{row.by}, {row.by_number}" if row.by_number else row.by,
        href=lambda row: record_href(row.by_kind, row.by_number) if row.by_number else "",
    )
    apart = ListColumn("Measured less declared", lambda row: _apart(row), unit="% vol")
    alcohol = ReturnLpaColumn("Alcohol declared", "line__pure_ul")
    as_measured = ReturnLpaColumn("Alcohol as measured", "measured_ul", none="not measured")
    book = ReturnLpaColumn("Alcohol in the books", "book_ul")

    name = "measured"
    caption = "Measured beside declared"
    note = "duty is on the declared strength; the books keep what was measured, and neither is fed from the other"
    nothing = "Nothing left in the month that bears duty."


def _apart(row: Declared) -> str:
    return "" if row.apart is None else figures.number(row.apart, 2, figures.SIGNED)


class MayBeDueTable(HouseTable):
    """What is missing, with the duty it would bear."""

    enquiry = ListColumn("Enquiry", "enquiry", href=lambda row: enquiry_address(row.enquiry))
    record = ListColumn("Record", "record", href=lambda row: record_href(row.record_kind, row.record))
    operation = ListColumn("Operation", "operation")
    point = DayColumn("Duty point", "point__day")
    known_by = ListColumn("Which is", "point__in_words")
    alcohol = LpaColumn("Missing", "pure_ul", order=("pure_ul",))
    strength = FigureColumn("Strength", "percent", places=2, unit="% vol", none=NOT_KNOWN)
    rate = RateColumn("Rate", "rate", none=NOT_KNOWN)
    duty = DutyColumn("May become due", lambda row: NOT_KNOWN if row.pence is None else row.pence)
    state = ListColumn("State", "state")
    tied = ListColumn(
        "Set off against",
        lambda row: f"{row.tied_to}: {row.tied_reason}" if row.tied_to else "",
        href=lambda row: enquiry_address(row.tied_to) if row.tied_to else "",
    )

    name = "may-be-due"
    caption = "What may become due on what is missing"
    note = "each amount in full: what is over elsewhere is never taken off it"
    nothing = "Nothing is missing that no known cause explains."
    adds_up = True

    def totals(self, rows: Iterable[Any]) -> Mapping[str, Any]:
        found: list[MayBeDue] = list(rows)
        if not found:
            return {}
        known = [one.pence for one in found if one.pence is not None]
        return {
            "alcohol": sum(one.pure_ul for one in found),
            "duty": sum(known) if len(known) == len(found) else NOT_KNOWN,
        }
