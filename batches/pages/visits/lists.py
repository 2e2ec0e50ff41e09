"""The list of visit notes, on the page, in files, on paper and in a bundle."""

from __future__ import annotations

from django.urls import reverse

from batches.visits.models import VisitNote
from distillery.lists.columns import DayColumn, ListColumn, MomentColumn
from distillery.lists.filters import DayFilter, HouseFilters
from distillery.lists.tables import HouseTable
from distillery.printing.furniture import grouped


def _put_right(note: VisitNote) -> str:
    later = getattr(note, "put_right_by", None)
    said = (f"puts right {note.corrects}" if note.corrects else "", f"put right by {later}" if later else "")
    return "; ".join(one for one in said if one)


class VisitNoteTable(HouseTable):
    """Every visit note with its day, who wrote it, and the note that puts it right, where there is one."""

    number = ListColumn("Visit note", str, href=lambda row: reverse("visit_note", args=[row.number]))
    day = DayColumn("Day of the visit", "visited_on", order=("visited_on", "number"))
    by = ListColumn("By", "person__shown_name")
    written = MomentColumn("Written", "written_at")
    text = ListColumn("Note", "text")
    put_right = ListColumn("Put right", _put_right)
    digest = ListColumn("Digest, first 16 figures", lambda row: grouped(row.digest))

    name, caption = "visit-notes", "Visit notes"
    nothing = "No officer has written a visit note."
    nothing_fits = "No visit note is of these days. Clear the filter."

    class Meta(HouseTable.Meta):
        order_by = ("-day",)


class VisitNotesByDay(HouseFilters):
    """By days of the visit."""

    since = DayFilter("visited_on", label="From")
    until = DayFilter("visited_on", label="To", until=True)
