"""The lists of copies and of drills."""

from __future__ import annotations

from distillery.copies.drill import Drill
from distillery.lists.columns import FigureColumn, ListColumn, MomentColumn
from distillery.lists.tables import HouseTable
from distillery.pages import OUT

BYTES_A_MEGABYTE = 1_000_000


class CopyTable(HouseTable):
    """The copies in the first place, newest first."""

    at = MomentColumn("Taken", "at")
    seal = ListColumn("Last seal in it", lambda row: str(row.number) if row.number else None, none="none")
    size = FigureColumn("MB", lambda row: row.size / BYTES_A_MEGABYTE, places=1)
    file = ListColumn("File", lambda row: row.file.name)

    name, caption = "copies", "Copies"
    note = "all of two days, then the newest of 7 days, 5 weeks and 12 months, and of every year"
    nothing = "No copy is there yet. The server takes one each night once something is written."


class DrillTable(HouseTable):
    """What came of each drill, newest first."""

    at = MomentColumn("When", "moment")
    copy = ListColumn("Copy", "copy")
    held = ListColumn("Proved", lambda row: _proved(row), state=lambda row: None if row.held else OUT)
    said = ListColumn("What was found", "said")
    by = ListColumn("Asked for by", "by")

    name, caption = "drills", "Drills with a copy"
    nothing = "No copy was tried yet. Try the newest one."


def _proved(row: Drill) -> str:
    return "yes" if row.held else "no"
