"""The list of all that was written of one thing."""

from __future__ import annotations

from distillery.lists.columns import ListColumn, MomentColumn
from distillery.lists.filters import HouseFilters, RowFilter
from distillery.lists.tables import HouseTable


class WrittenTable(HouseTable):
    """All that was written of one thing, in the order in which it was written."""

    written = MomentColumn("Written", "written")
    at = MomentColumn("Happened", "at")
    what = ListColumn("What", "what")
    of = ListColumn("Of", "of", href=lambda row: row.href)
    box = ListColumn("Box or account", "box")
    was = ListColumn("Was", "was")
    now = ListColumn("Since then", "now")
    why = ListColumn("Why", "why")
    by = ListColumn("By", "by", none="not known")

    name, caption = "all-changes", "All changes"
    nothing = "Nothing was written of it yet."
    nothing_fits = "Nothing of this kind was written of it. Clear the filter."


KINDS = (
    "Written",
    "Written further",
    "Put right",
    "Struck",
    "Reading struck",
    "Entered in the books",
    "Taken back in the books",
    "Gauged",
    "List changed",
)


class WrittenFilters(HouseFilters):
    """By what was done."""

    what = RowFilter(label="What", read=lambda row: row.what, choices=lambda: [(one, one) for one in KINDS])
