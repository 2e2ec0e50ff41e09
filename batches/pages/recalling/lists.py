"""The lists of a recall, and the list of all recalls."""

from __future__ import annotations

from typing import Any

from django.urls import reverse

from batches.pages.recalling.found import InPlace, OnRecord
from batches.pages.records.shown import record_address, state_of, title_of
from batches.pages.tracing.names import trace_address
from batches.recalls.models import Recall
from distillery import pages
from distillery.lists.columns import FigureColumn, ListColumn, LpaColumn, MomentColumn
from distillery.lists.tables import HouseTable
from distillery.plant.models import Kind as VesselKind
from ledger.views.ways import account_href

# Shares go down to one part in a million.
SHARE_PLACES = 4


def _percent(row: Any) -> float:
    return 100.0 * float(row.share)


def _place(row: InPlace) -> str:
    vessel = row.account.vessel
    if vessel is not None and vessel.kind == VesselKind.CASK:
        return reverse("cask", args=[row.code])
    return account_href(row.account)


def _record(row: OnRecord) -> str:
    return record_address(row.record)


class InPlaceTable(HouseTable):
    """Casks and vessels that hold some of it now."""

    code = ListColumn("Number", "code", href=_place)
    kind = ListColumn("What", "kind")
    warehouse = ListColumn("Warehouse", "warehouse")
    litres = FigureColumn("Holds", "litres20", places=1, unit="L at 20 °C", none="by its gauge")
    holds = LpaColumn("Holds, alcohol", "holds_ul")
    of_it = LpaColumn("Of it", "of_it_ul")
    share = FigureColumn("Share of what it holds", _percent, places=SHARE_PLACES, unit="%")

    name, caption = "in-places", "Casks and vessels that hold some of it now"
    nothing = "No cask or vessel holds any of it now."


class InStockTable(HouseTable):
    """Bottles in bond with some of it in them."""

    stock = ListColumn("Stock", "account__name", href=lambda row: account_href(row.account))
    bottles = FigureColumn("Bottles here", "bottles")
    of_it = LpaColumn("Of it", "of_it_ul")
    share = FigureColumn("Share of what is in them", _percent, places=SHARE_PLACES, unit="%")

    name, caption = "in-stock", "Bottles still in stock"
    note = "bottlings of one product, size and strength stand together, as well mixed"
    nothing = "No bottles in stock have any of it in them."


class BottledTable(HouseTable):
    """Bottlings of it."""

    number = ListColumn("Bottling", "record__number", href=_record, state=lambda row: state_of(row.record))
    bottled = MomentColumn("Bottled", "record__happened_from")
    product = ListColumn("Product", lambda row: row.says("product"))
    lot = ListColumn("Lot code", lambda row: row.says("lot_code"))
    bottles = FigureColumn("Bottles", "bottles")
    of_it = LpaColumn("Of it", "of_it_ul")
    share = FigureColumn("Share of what went in", _percent, places=SHARE_PLACES, unit="%")

    name, caption = "bottled", "Bottlings"
    nothing = "None of it was bottled."


class LeftTable(HouseTable):
    """What left the site."""

    number = ListColumn("Removal", "record__number", href=_record, state=lambda row: state_of(row.record))
    left = MomentColumn("Left", "record__happened_from")
    consignee = ListColumn("Consignee", "consignee", none="not written")
    document = ListColumn("Document", "document", none="not written")
    product = ListColumn("Product", lambda row: row.says("product"))
    bottles = FigureColumn("Bottles", "bottles")
    of_it = LpaColumn("Of it", "of_it_ul")
    share = FigureColumn("Share of what left", _percent, places=SHARE_PLACES, unit="%")

    name, caption = "left", "What left, and to whom"
    nothing = "None of it has left."


class OtherTable(HouseTable):
    """Every other record it passed through."""

    kind = ListColumn("What", lambda row: title_of(row.record.kind))
    number = ListColumn("Number", "record__number", href=_record, state=lambda row: state_of(row.record))
    happened = MomentColumn("Happened", "record__happened_from")
    of_it = LpaColumn("Of it", "of_it_ul")
    share = FigureColumn("Share of what it took", _percent, places=SHARE_PLACES, unit="%")

    name, caption = "others", "Other records it passed through"
    nothing = "It passed through no other record."


def recall_state(row: Recall) -> pages.State:
    """Where a recall stands, in a word."""
    if hasattr(row, "ended"):
        return pages.CLOSED
    if hasattr(row, "end_asked"):
        return pages.ONE_OF_TWO
    return pages.State(pages.Kind.ACT, "Recalled")


class RecallTable(HouseTable):
    """Everything that was ever recalled, the newest first."""

    ref = ListColumn("Number", "ref", href=lambda row: trace_address(row.ref, "recall"))
    what = ListColumn("What", "what")
    said = MomentColumn("Recalled", "said_at", order=("said_at", "pk"))
    person = ListColumn("By", "person__shown_name")
    reason = ListColumn("Why", "reason")
    state = ListColumn("State", lambda _row: "", state=recall_state)
    ended = ListColumn("Ended by", lambda row: _ended(row))
    why = ListColumn("Why it ended", lambda row: row.end_asked.reason if hasattr(row, "end_asked") else "")

    name, caption = "recalls", "Recalled"
    nothing = "Nothing was recalled yet. Trace a number, see what it touched, and recall it there."

    class Meta(HouseTable.Meta):
        order_by = ("-said",)


def _ended(row: Recall) -> str:
    if not hasattr(row, "ended"):
        return ""
    return f"{row.end_asked.person.shown_name} and {row.ended.person.shown_name}"
