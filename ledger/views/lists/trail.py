"""The list of every entry of the trail, for whoever wants them one by one or in a file."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from distillery.lists.columns import FigureColumn, ListColumn, MomentColumn
from distillery.lists.filters import DayFilter, HouseFilters, OneOfFilter
from distillery.lists.tables import HouseTable
from distillery.trail.kept import told_models
from distillery.trail.models import Act
from distillery.trail.telling import Told, tell
from distillery.trail.words import kind_of


def _changes(row: Any) -> str:
    told: Told = row.told
    if told.is_first:
        return "; ".join(f"{one.what}: {one.after}" for one in told.changes if one.after)
    return "; ".join(f"{one.what}: {one.before or 'blank'} to {one.after or 'blank'}" for one in told.changes)


class TrailTable(HouseTable):
    """Every entry of the trail, newest first."""

    number = FigureColumn("Entry", "pk", order=("pk",))
    at = MomentColumn("When", "at")
    act = ListColumn("Done", lambda row: row.told.act.capitalize())
    which = ListColumn("What", lambda row: row.told.which)
    changes = ListColumn("In words", _changes)
    by = ListColumn("By", lambda row: row.told.by)

    name = "entries"
    caption = "Every entry of the trail"
    note = "newest first"
    nothing = "Nothing has been entered or changed yet. The trail begins with the first vessel."
    nothing_fits = "No entries match. Clear the filter."

    class Meta(HouseTable.Meta):
        order_by = ("-number",)

    def prepare(self, rows: Sequence[Any]) -> None:
        for row, told in zip(rows, tell(rows), strict=True):
            row.told = told


def _kinds() -> list[tuple[str, str]]:
    named = [(table, kind_of(model, several=True)) for table, model in told_models().items()]
    return sorted(((table, said[:1].upper() + said[1:]) for table, said in named), key=lambda one: one[1])


class TrailFilters(HouseFilters):
    """By days, by what was written about, and whether it was written or removed."""

    since = DayFilter("at", label="From")
    until = DayFilter("at", label="To", until=True)
    table = OneOfFilter("table", label="What", choices=_kinds)
    act = OneOfFilter("act", label="Done", choices=lambda: Act.choices)
