"""The lots of the stores that a record drew on, and those that came in or were counted by it: one step either way."""

from __future__ import annotations

from batches.models import Record
from batches.pages.stores.tables import lot_address
from batches.sheets.register import sheet_of
from batches.stores.amounts import shown
from batches.stores.kinds import Act, MaterialKind
from batches.stores.models import StockEntry
from distillery import pages

SAID = {Act.RECEIVED: "received", Act.ISSUED: "issued", Act.COUNTED: "counted"}


def lots_of(record: Record) -> tuple[list[pages.Link], list[pages.Link]]:
    """Ways to the lots a record drew on, and to those it brought in or counted, each with how much. One query, none for
    a record that says nothing of the stores. A lot that is numbered as its receipt is linked to that already.
    """
    if not sheet_of(record.kind).keeps_stock:
        return [], []
    entries = StockEntry.objects.standing().filter(version__record=record).select_related("lot").order_by("pk")
    drawn: list[pages.Link] = []
    brought: list[pages.Link] = []
    for entry in entries:
        lot, act = entry.lot, Act(entry.act)
        if act is Act.ISSUED and lot.material is MaterialKind.MALT and not entry.silo:
            continue
        name = f"{lot.kind} {lot.name}" if lot.name and lot.name != lot.kind else lot.kind
        said = f"{name}, {SAID[act]} {shown(lot.material, entry.said)}"
        said += f" from silo {entry.silo}" if act is Act.ISSUED and entry.silo else ""
        link = pages.Link(f"Lot {lot.code}", lot_address(lot), said)
        (drawn if act is Act.ISSUED else brought).append(link)
    return drawn, brought
