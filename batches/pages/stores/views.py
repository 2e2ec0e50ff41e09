"""The stores: what is in stock by lot, and one lot with its certificate, its book and what it went into."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponseBase, JsonResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.safestring import SafeString

from batches.models import Mention, Record
from batches.pages.common import signed_on
from batches.pages.recalling.said import recall_itself
from batches.pages.records.shown import record_address, title_of
from batches.pages.stores.certificate import certificate_of
from batches.pages.stores.tables import (
    BookTable,
    HistoryTable,
    LotFilters,
    LotTable,
    TakenBackTable,
    lots,
    said_of,
    state_of_lot,
    taken_back,
    unit_of,
)
from batches.pages.tracing.names import trace_address
from batches.recalls.recalling import standing
from batches.sheets.register import all_sheets
from batches.stores.amounts import shown
from batches.stores.book import BookLine, book_of, key_of
from batches.stores.kinds import Act
from batches.stores.models import Lot
from distillery import charts, figures, pages
from distillery.charts import Reading
from distillery.lists.showing import first_file, listed
from distillery.pages import Link
from distillery.people.roles import may_write


class UseTable(HistoryTable):
    """The records that name a lot, with an amount or without one."""

    name = "uses"
    caption = "What names it"
    nothing = "No record names this lot now."


def stores(request: HttpRequest) -> HttpResponseBase:
    """Lots of materials with what is in stock."""
    found = listed(request, LotTable, lots(), LotFilters)
    if found.file is not None:
        return found.file
    new = [
        Link(f"New {sheet.title.lower()}", reverse("record_new", args=[sheet.kind]))
        for sheet in all_sheets()
        if (sheet.receives or sheet.counts or _disposes(sheet.kind))
    ]
    return render(
        request,
        "batches/stores.html",
        {"area": "stores", "lots": found.table, "new": new if may_write(signed_on(request)) else []},
    )


def _disposes(kind: str) -> bool:
    """True for a step that takes lots of any material out of the stores."""
    sheet = next(one for one in all_sheets() if one.kind == kind)
    return any(one.kind_from for one in sheet.materials)


def _lot(kind: str, code: str) -> Lot:
    lot = Lot.objects.filter(kind=kind, key=key_of(code)).first()
    if lot is None:
        raise Http404(f"There is no lot {code} of {kind}.")
    return lot


def lot_page(request: HttpRequest, kind: str, code: str) -> HttpResponseBase:
    """One lot: what it is, its book, where it came from and what it went into."""
    lot = _lot(kind, code)
    lines = list(book_of(lot))
    book = listed(request, BookTable, lines, prefix="book", caption=f"Its book, {unit_of(lot.material)}")
    uses = listed(request, UseTable, _naming(lot), prefix="uses")
    gone = listed(request, TakenBackTable, taken_back(lot), prefix="taken-back")
    if (file := first_file(book, uses, gone)) is not None:
        return file
    return render(
        request,
        "batches/lot.html",
        {
            "area": "stores",
            "lot": lot,
            "facts": _facts(lot, lines),
            "certificates": certificate_of(lot, lines),
            "chart": _chart(lot, lines),
            "book": book.table,
            "uses": uses.table,
            "taken_back": gone.table if taken_back(lot).exists() else None,
            "recalled": [recall_itself(one) for one in standing().filter(ref__iexact=lot.code)],
            "trace": trace_address(lot.code),
            "json": reverse("lot_json", args=[lot.kind, lot.code]),
        },
    )


def lot_json(request: HttpRequest, kind: str, code: str) -> JsonResponse:
    """One lot with its book: amounts in whole grams or pieces, times in UTC."""
    lot = _lot(kind, code)
    return JsonResponse(
        {
            "material": lot.kind,
            "lot": lot.code,
            "name": lot.name,
            "unit": "pieces" if lot.material.in_pieces else "g",
            "received_here": lot.is_here,
            "held": lot.held if lot.is_here else None,
            "received": lot.received,
            "silo": lot.silo,
            "entries": [_entry(line) for line in book_of(lot)],
        }
    )


def _entry(line: BookLine) -> dict[str, Any]:
    entry = line.entry
    return {
        "act": entry.act,
        "happened_at": entry.happened_at,
        "amount": entry.amount,
        "said": entry.said,
        "held_after": line.held,
        "record": entry.version.record.number,
        "kind": entry.version.record.kind,
        "version": entry.version.serial,
        "digest": entry.version.digest,
    }


def _naming(lot: Lot) -> QuerySet[Record]:
    """The records that name a lot in a box of the stores."""
    boxes = [
        (sheet.kind, one.field)
        for sheet in all_sheets()
        for one in (*sheet.receives, *sheet.materials, *sheet.counts)
        if one.is_stock and one.field and one.kind in (None, lot.material)
    ]
    named = Mention.objects.filter(
        what__in=(Mention.What.LOT, Mention.What.RECORD),
        code__in={lot.code, lot.code.upper(), lot.code.lower()},
        field__in={field for _kind, field in boxes},
    )
    return Record.objects.filter(kind__in={kind for kind, _field in boxes}, pk__in=named.values("record"))


def _facts(lot: Lot, lines: list[BookLine]) -> list[pages.Fact]:
    facts = [pages.Fact("Material", lot.kind.capitalize(), note=lot.name)]
    if not lot.is_here:
        return [
            *facts,
            pages.Fact("Book", "none", note="it was never received here", state=state_of_lot(lot)),
            pages.Fact("Issued", shown(lot.material, -sum(line.entry.amount for line in lines))),
        ]
    facts.append(pages.Fact("In stock", shown(lot.material, lot.held), state=state_of_lot(lot)))
    facts.append(pages.Fact("Received", shown(lot.material, lot.received)))
    if lot.silo:
        facts.append(pages.Fact("Silo", lot.silo, href=reverse("silo", args=[lot.silo])))
    issued = -sum(line.entry.amount for line in lines if line.entry.act == Act.ISSUED)
    counted = sum(line.entry.amount for line in lines if line.entry.act == Act.COUNTED)
    facts.append(pages.Fact("Issued", shown(lot.material, issued)))
    if counted:
        facts.append(pages.Fact("Found at counts", shown(lot.material, counted)))
    last = lines[-1].entry
    facts.append(
        pages.Fact(
            "Last entry",
            figures.moment(last.happened_at),
            href=record_address(last.version.record),
            note=f"{said_of(last).lower()} {title_of(last.version.record.kind).lower()}",
        )
    )
    return facts


def _chart(lot: Lot, lines: list[BookLine]) -> SafeString:
    """What the lot held over time, in steps."""
    if not lot.is_here or len(lines) < 2:
        return SafeString("")
    scale = 1.0 if lot.material.in_pieces else 1000.0
    steps = []
    for line in lines:
        steps.append(Reading(line.entry.happened_at, (line.held - line.entry.amount) / scale))
        steps.append(Reading(line.entry.happened_at, line.held / scale))
    return charts.line_chart(
        steps,
        name="stock",
        title=f"Lot {lot.code} in stock",
        quantity=f"In stock, {unit_of(lot.material)}",
        places=0 if lot.material.in_pieces else 1,
    )
