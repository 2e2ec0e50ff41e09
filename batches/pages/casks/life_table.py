"""The life story of a cask as a list, newest first or oldest first."""

from __future__ import annotations

from batches.casks.life import alcohol_said
from batches.pages.records.shown import record_address, state_of
from distillery.lists.columns import ListColumn, MomentColumn
from distillery.lists.tables import HouseTable


class LifeTable(HouseTable):
    """Everything that happened to a cask, in order of time, each with its record."""

    happened = MomentColumn("Happened", "at")
    what = ListColumn("What", "what")
    said = ListColumn("Said of it", "said")
    alcohol = ListColumn("Pure alcohol", alcohol_said)
    record = ListColumn(
        "Record", "record__number", href=lambda row: record_address(row.record), state=lambda row: state_of(row.record)
    )

    name = "life"
    caption = "Its life"
    nothing = "Nothing was written about this cask yet. Its filling is the first."
