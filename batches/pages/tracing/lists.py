"""The lists of a trace: what it came from, what it went into, what is not known."""

from __future__ import annotations

from collections.abc import Iterable

from batches.pages.tracing.names import kind_name, trace_address
from batches.sheets.register import all_sheets
from batches.tracing.not_known import NotKnown
from batches.tracing.references import traced_kind
from batches.tracing.trace import Traced
from distillery.lists.columns import FigureColumn, ListColumn, LpaColumn
from distillery.lists.tables import HouseTable

SHARE_PLACES = 2


def in_order(traced: Iterable[Traced]) -> list[Traced]:
    """By step in the order of the process, the largest of each first; places where alcohol is come last."""
    order = {traced_kind(sheet.kind): place for place, sheet in enumerate(all_sheets())}
    return sorted(traced, key=lambda one: order.get(one.kind, len(order)))


def _trace_of(row: Traced) -> str:
    return trace_address(row.record)


class _TracedTable(HouseTable):
    """Records and places of one side of a trace."""

    kind = ListColumn("What", lambda row: kind_name(row.kind))
    number = ListColumn("Number", "record", href=_trace_of)
    pure = LpaColumn("Alcohol", "pure_ul")
    share = FigureColumn("Share of its kind", lambda row: 100.0 * row.share, places=SHARE_PLACES, unit="%")
    of_all = FigureColumn("Of all", lambda row: 100.0 * row.of_all, places=SHARE_PLACES, unit="%")


class BehindTable(_TracedTable):
    """What lies behind."""

    name, caption = "behind", "Came from"
    note = "pure alcohol of it that passed through each; shares of a kind come to 100 %"
    nothing = "Nothing on record lies behind it."


class AheadTable(_TracedTable):
    """What came of it."""

    of_itself = FigureColumn("Of what is in it", lambda row: 100.0 * row.of_itself, places=SHARE_PLACES, unit="%")

    name, caption = "ahead", "Went into"
    note = "pure alcohol of it that each took or holds; of what is in it: how much of the whole that is"
    nothing = "Nothing on record took any of it."


def _not_known_trace(row: NotKnown) -> str:
    return trace_address(row.record) if row.record else ""


class NotKnownTable(HouseTable):
    """Alcohol that nothing on record lies behind."""

    record = ListColumn("Chain ends at", "record", href=_not_known_trace, none="no record")
    why = ListColumn("Because", "why")
    pure = LpaColumn("Alcohol", "pure_ul")
    share = FigureColumn("Of all", lambda row: 100.0 * row.share, places=SHARE_PLACES, unit="%")

    name, caption = "not-known", "Not known where from"
    note = "alcohol of it that nothing on record lies behind"
