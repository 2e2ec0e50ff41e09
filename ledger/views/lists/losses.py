"""The lists of the loss register of a month: losses, what was booked back, differences with their enquiries."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from django.urls import reverse

from distillery.lists.columns import DifferenceColumn, FigureColumn, ListColumn, LpaColumn, MomentColumn
from distillery.lists.tables import HouseTable
from ledger.enquiries.models import Ending
from ledger.enquiries.register import DifferenceLine, LossLine
from ledger.views.enquiries.parts import state_mark
from ledger.views.lists.findings import enquiry_href
from ledger.views.ways import record_href

NOT_STATED = "not stated"


def _record_href(row: LossLine | DifferenceLine) -> str:
    return record_href(row.record_kind, row.record)


class LossTable(HouseTable):
    """Every known loss of a month, each with the persons who answer for it."""

    lost = MomentColumn("Lost at", "at", order=("at",))
    record = ListColumn("Record", "record", href=_record_href)
    cause = ListColumn("Cause", "cause", order=("cause", "at"))
    stage = ListColumn("Stage", "stage", order=("stage", "at"))
    product = ListColumn("Product", "product")
    volume = FigureColumn("Volume", "litres20", places=1, unit="L at 20 °C", none=NOT_STATED)
    strength = FigureColumn("Strength", "percent20", places=2, unit="% vol", none=NOT_STATED)
    alcohol = LpaColumn("Alcohol", "pure_ul", order=("pure_ul",))
    reason = ListColumn("Reason", "reason")
    persons = ListColumn("Persons", lambda row: " and ".join(row.persons))
    movement = FigureColumn(
        "Movement", "movement", href=lambda row: reverse("movement", kwargs={"number": row.movement})
    )

    name = "losses"
    caption = "Known losses"
    nothing = "No known losses in this month. An enquiry that ends with a known loss books one here."
    adds_up = True

    def totals(self, rows: Iterable[Any]) -> Mapping[str, Any]:
        amounts = [row.pure_ul for row in rows]
        return {"alcohol": sum(amounts)} if amounts else {}


class GainTable(LossTable):
    """What was booked back of known losses."""

    name = "gains"
    caption = "Gains: losses booked back"
    nothing = "Nothing was booked back in this month."


def _ended(row: DifferenceLine) -> str:
    decided = row.standing.decided
    if decided is not None and decided.ending == Ending.NOT_FOUND:
        return f"{row.standing.in_words}: the law and the officer decide"
    return row.standing.in_words


class DifferenceTable(HouseTable):
    """Differences of a month that an enquiry is about."""

    happened = MomentColumn("Happened", "at", order=("at",))
    record = ListColumn("Record", "record", href=_record_href)
    operation = ListColumn("Operation", "operation")
    stage = ListColumn("Stage", "stage")
    difference = DifferenceColumn("Difference", "left_ul", order=("left_ul",))
    explained = DifferenceColumn("Explained", "explained_ul")
    left = DifferenceColumn("Left", "open_ul", order=("open_ul",))
    earlier = DifferenceColumn("In earlier months", "earlier_ul")
    in_all = DifferenceColumn("In all its months", "in_all_ul")
    enquiry = ListColumn("Enquiry", "standing__enquiry__number", href=lambda row: enquiry_href(row.standing.enquiry))
    state = ListColumn(
        "State",
        lambda row: "" if state_mark(row.standing) else _ended(row),
        state=lambda row: state_mark(row.standing),
    )

    name = "differences"
    caption = "Differences and their enquiries"
    nothing = "No difference has an enquiry in this month."
    adds_up = True

    def totals(self, rows: Iterable[Any]) -> Mapping[str, Any]:
        lines = list(rows)
        if not lines:
            return {}
        return {
            "difference": sum(row.left_ul for row in lines),
            "explained": sum(row.explained_ul for row in lines),
            "left": sum(row.open_ul for row in lines),
        }


def not_asked_for(lines: Sequence[DifferenceLine]) -> tuple[str, ...]:
    """Columns that the differences of a month do without: those of earlier months, where none crossed a close."""
    return () if any(line.earlier_ul for line in lines) else ("earlier", "in_all")
