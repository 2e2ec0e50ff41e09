"""The lists of the site's dated figures with their history."""

from __future__ import annotations

from typing import Any

from django.utils.text import capfirst

from batches.pages.places.rule_tables import (
    BandTable,
    NameTable,
    PerCentColumn,
    ReportingTable,
    ThresholdTable,
    UsualFigureTable,
)
from batches.pages.setting_up.history import LAST_COLUMNS, DatedTable, set_anew
from distillery.lists.columns import DayColumn, ListColumn
from distillery.lists.tables import HouseTable


def _sequence(*columns: str) -> tuple[str, ...]:
    return (*columns, *LAST_COLUMNS)


class ThresholdHistory(DatedTable, ThresholdTable):
    """Review thresholds by operation and vessel."""

    operation = ListColumn(
        "Operation", lambda row: capfirst(row.operation), order=("operation", "vessel", "from_day", "pk"), href=set_anew
    )
    spread = PerCentColumn("Spread", "spread_millionths", unit="% of alcohol in")

    group = ("operation", "vessel")
    nothing = "No review thresholds set: nothing is looked into. Set the first above."

    class Meta(HouseTable.Meta):
        order_by = ("operation",)
        sequence = _sequence("operation", "vessel", "usual", "spread", "threshold", "floor")


class BandHistory(DatedTable, BandTable):
    """What casks are expected to lose, by warehouse and kind."""

    warehouse = ListColumn(
        "Warehouse", "warehouse", none="any", order=("warehouse", "cask_kind", "from_day", "pk"), href=set_anew
    )

    group = ("warehouse", "cask_kind")
    nothing = "No bands set, so no cask is judged by its age. Set the first above."

    class Meta(HouseTable.Meta):
        order_by = ("warehouse",)
        sequence = _sequence("warehouse", "kind", "low", "high")


class UsualHistory(DatedTable, UsualFigureTable):
    """What figures of operations usually are."""

    figure = ListColumn("Figure", lambda row: capfirst(row.name), order=("name", "from_day", "pk"), href=set_anew)

    group = ("name",)

    class Meta(HouseTable.Meta):
        order_by = ("figure",)
        sequence = _sequence("figure", "usual", "strays", "unit_of")


class NameHistory(DatedTable, NameTable):
    """What the law asks of a spirit that bears a name."""

    named = ListColumn("Name", lambda row: capfirst(row.name), order=("name", "code", "from_day", "pk"), href=set_anew)

    group = ("name", "code")
    nothing = "No requirements of names set: no name is checked. Set the first above."

    class Meta(HouseTable.Meta):
        order_by = ("named",)
        sequence = _sequence("named", "code", "said", "limit")


class ReportingHistory(DatedTable, ReportingTable):
    """What has to be reported of an operation."""

    operation = ListColumn("Operation", lambda row: capfirst(row.operation), order=("operation", "pk"), href=set_anew)

    group = ("operation", "occasion", "said")
    nothing = "Nothing to be reported is set. Set the first above."

    class Meta(HouseTable.Meta):
        order_by = ("operation",)
        sequence = _sequence("operation", "occasion", "said", "by_whom", "until")


class DetailsHistory(DatedTable):
    """Name, address and approval of the site."""

    named = ListColumn("Name", "name", href=set_anew)
    address = ListColumn("Address", "address")
    approval = ListColumn("Approval number", "approval_number", none="none")
    warehouse = ListColumn("Warehouse approval", "warehouse_approval", none="none")
    since = DayColumn("From", "from_day", order=("from_day", "pk"))
    source = ListColumn("Source", "source")

    name, caption = "details", "Name and approval of the site"
    nothing = "Not entered yet: pages and prints bear the name that the program was started with. Enter it above."

    class Meta(HouseTable.Meta):
        order_by = ("-since",)
        sequence = _sequence("named", "address", "approval", "warehouse")


class IntervalHistory(DatedTable):
    """How long things last."""

    what = ListColumn("What", lambda row: capfirst(row.what), order=("what", "from_day", "pk"), href=set_anew)
    months = ListColumn("Months", lambda row: _months(row))
    since = DayColumn("From", "from_day", order=("from_day", "pk"))
    source = ListColumn("Source", "source")

    group = ("what",)
    name, caption = "intervals", "How long things last"
    nothing = "No intervals set: nothing is due."

    class Meta(HouseTable.Meta):
        order_by = ("what",)
        sequence = _sequence("what", "months")


class CauseHistory(DatedTable):
    """Causes of loss that may be named."""

    cause = ListColumn("Cause", lambda row: capfirst(row.name), order=("name",))
    since = DayColumn("From", "from_day", order=("from_day", "name"))
    source = ListColumn("Source", "source")

    group = ("name",)
    name, caption = "causes", "Causes of loss"
    nothing = "No causes of loss yet. Add the first above."

    class Meta(HouseTable.Meta):
        order_by = ("cause",)
        sequence = _sequence("cause")


def _months(row: Any) -> str:
    return str(row.months) if row.months else "0, nothing is due"
