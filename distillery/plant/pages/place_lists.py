"""The rows of the warehouses and who holds their keys, as lists."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from distillery.clock.reading import books_today
from distillery.lists.columns import DayColumn, FigureColumn, ListColumn, MomentColumn
from distillery.lists.tables import HouseTable
from distillery.people.models import Person


class _EnteredTable(HouseTable):
    """Lines that somebody entered."""

    who = ListColumn("Entered by", lambda row: row.who)
    entered = MomentColumn("Entered", "entered_at")

    def prepare(self, rows: Sequence[Any]) -> None:
        names = {one.pk: one.shown_name for one in Person.objects.filter(pk__in={row.person_id for row in rows})}
        for row in rows:
            row.who = names.get(row.person_id, "with the plant's tables")


class WarehouseRowTable(_EnteredTable):
    """The rows in use, in the order in which one walks."""

    warehouse = ListColumn("Warehouse", "warehouse")
    row = ListColumn("Row", "row")
    tiers = FigureColumn("Tiers", "tiers")

    name, caption = "rows", "Rows of the warehouses"
    nothing = "No rows yet. Without them any row and tier may be written. Enter the first."

    class Meta(HouseTable.Meta):
        sequence = ("warehouse", "row", "tiers", "who", "entered")


class KeyholderTable(_EnteredTable):
    """Who holds which key, and who held it."""

    warehouse = ListColumn("Warehouse", "warehouse")
    holder = ListColumn("Name", "name")
    key = ListColumn("Key", "key")
    since = DayColumn("From", "from_day")
    until = DayColumn("Up to", lambda row: row.until_day, none="held")
    now = ListColumn("Now", lambda row: _now(row))

    name, caption = "keys", "Keyholders"
    nothing = "No keyholder yet. Enter who holds which key, and since when."

    class Meta(HouseTable.Meta):
        sequence = ("warehouse", "holder", "key", "since", "until", "now", "who", "entered")


def _now(row: Any) -> str:
    today = books_today()
    if row.from_day > today:
        return "not yet"
    return "holds it" if row.until_day is None or today <= row.until_day else "gave it back"
