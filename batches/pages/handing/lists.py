"""The lists of notes and of handovers, the newest first."""

from __future__ import annotations

from typing import Any

from django.urls import reverse

from distillery.lists.columns import ListColumn, MomentColumn
from distillery.lists.filters import DayFilter, HouseFilters, OneOfFilter
from distillery.lists.tables import HouseTable
from ledger.views.lists.filters import people


def taken_of(handover: Any) -> Any:
    """Who took a handover over, or None."""
    return getattr(handover, "taken", None)


def _strike(row: Any) -> str:
    return "" if hasattr(row, "struck_by") or not row.text else reverse("note_strike", args=[row.pk])


def _struck(row: Any) -> str:
    by = getattr(row, "struck_by", None)
    return f"struck by {by.person.shown_name}: {by.reason}" if by is not None else ""


class HandoverTable(HouseTable):
    """Every handover with who wrote it and who took it."""

    at = MomentColumn(
        "Handed over", "said_at", order=("said_at", "pk"), href=lambda row: reverse("handover", args=[row.pk])
    )
    by = ListColumn("From", "person__shown_name")
    to = ListColumn("Signed by", lambda row: taken_of(row).person.shown_name if taken_of(row) else None, none="Nobody")
    text = ListColumn("Handed over", "text")

    name = "handovers"
    caption = "Handovers"
    nothing = "No shift has been handed over yet."
    nothing_fits = "No handovers match. Clear the filter."

    class Meta(HouseTable.Meta):
        order_by = ("-at",)


class NoteTable(HouseTable):
    """Every note; a struck one with who struck it and why."""

    at = MomentColumn("Said", "said_at", order=("said_at", "pk"))
    by = ListColumn("By", "person__shown_name")
    text = ListColumn("Note", "text", none="Struck", href=_strike)
    struck = ListColumn("Struck", _struck)

    name = "notes"
    caption = "Notes"
    note = "to strike a note, choose its words"
    nothing = "Nothing has been noted yet."
    nothing_fits = "No notes match. Clear the filter."

    class Meta(HouseTable.Meta):
        order_by = ("-at",)


class ByPersonAndDay(HouseFilters):
    """By who said it, and by days."""

    person = OneOfFilter("person__username", label="By", choices=people)
    since = DayFilter("said_at", label="From")
    until = DayFilter("said_at", label="To", until=True)
