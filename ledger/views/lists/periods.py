"""The list of stock periods, and that of the last seal of each day."""

from __future__ import annotations

from distillery.clock.reading import site_day
from distillery.lists.columns import DayColumn, FigureColumn, ListColumn, MomentColumn
from distillery.lists.tables import HouseTable


class StockPeriodTable(HouseTable):
    """Stock periods the site was allowed, newest first."""

    code = ListColumn("Code", "code", order=("code",))
    first = DayColumn("First day", "first_day")
    last = DayColumn("Last day", "last_day")
    source = ListColumn("Allowed by", "source")
    entered = MomentColumn("Entered", "entered_at")
    person = ListColumn("By", "person__shown_name")

    name = "stock-periods"
    caption = "Stock periods"
    note = "newest first"
    nothing = "None is entered, so the periods of account are calendar months."

    class Meta(HouseTable.Meta):
        order_by = ("-code",)


class SealTable(HouseTable):
    """The last seal of each of the newest days."""

    day = DayColumn("Day", lambda row: site_day(row.made_at))
    number = FigureColumn("Number", "number")
    made = MomentColumn("Made", "made_at")
    movement = FigureColumn("Movements up to", "movement")
    seal = ListColumn("Seal", "seal")

    name = "by-day"
    caption = "Last seal of each day"
    note = "newest first"
    nothing = "Nothing is written yet, so there is no seal. The first comes with the first entry."
