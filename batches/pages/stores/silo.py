"""One silo: the lots it holds by their books, and what they are together, weighted by mass."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from django.http import Http404, HttpRequest, HttpResponseBase
from django.shortcuts import render

from batches.pages.common import signed_on
from batches.pages.records.shown import record_address, unit_of
from batches.pages.stores.tables import LotTable
from batches.records.versions import typed_of
from batches.sheets.register import all_sheets
from batches.sheets.sheet import Field
from batches.sheets.typed.moments import Unreadable
from batches.sheets.typed.parsing import read_number
from batches.standing import version_in_books
from batches.stores.amounts import shown
from batches.stores.kinds import Act
from batches.stores.models import Lot, StockEntry
from batches.stores.silos import through
from distillery import figures, pages
from distillery.clock.reading import books_now
from distillery.lists.showing import listed
from distillery.people.roles import may_write
from distillery.process.malt import Portion, blended

GRAMS_A_KILOGRAM = 1000


class SiloTable(LotTable):
    """Lots that were put into a silo and hold something, or hold less than nothing."""

    name = "silo"
    caption = "Lots in it"
    nothing = "By the books of its lots this silo holds nothing."

    class Meta(LotTable.Meta):
        order_by = ("first",)


def silo(request: HttpRequest, code: str) -> HttpResponseBase:
    """What a silo holds by the books of its lots."""
    put_in = Lot.objects.filter(silo__iexact=code)
    first = put_in.first()
    if first is None:
        raise Http404(f"Nothing was put into a silo {code}.")
    here = put_in.exclude(held=0)
    found = listed(request, SiloTable, here)
    if found.file is not None:
        return found.file
    lots = list(here)
    held = sum(lot.held for lot in lots)
    state = pages.State(pages.Kind.OUT, "Below nothing") if held < 0 else None
    facts = [pages.Fact("By the books of its lots", shown(first.material, held), state=state), *_together(lots)]
    facts += _last_empty(first)
    return render(
        request,
        "batches/silo.html",
        {
            "area": "stores",
            "silo": first.silo,
            "facts": facts,
            "lots": found.table,
            "may_write": may_write(signed_on(request)),
        },
    )


def _last_empty(lot: Lot) -> Iterator[pages.Fact]:
    """When the silo was last found empty, and what was put in since."""
    counts = StockEntry.objects.standing().filter(act=Act.COUNTED, lot__kind=lot.kind, silo__iexact=lot.silo)
    last = counts.select_related("version__record").order_by("-happened_at").first()
    if last is None:
        return
    here = through(lot.material, lot.silo, books_now())
    at, record = figures.moment(last.happened_at), last.version.record
    yield pages.Fact("Last found empty", at, href=record_address(record), note=record.number)
    yield pages.Fact("Put in since", shown(lot.material, here.put_in))


def _together(lots: Sequence[Lot]) -> Iterator[pages.Fact]:
    """Each figure that mixes by mass, of the lots that hold something and whose receipt tells it."""
    holding = {lot.pk: lot for lot in lots if lot.held > 0}
    receipts = (
        StockEntry.objects.standing()
        .filter(lot__in=holding, act=Act.RECEIVED)
        .select_related("version__record")
        .order_by("-happened_at", "-pk")
    )
    typed = {entry.lot_id: (entry.version.record, version_in_books(entry.version.record)) for entry in receipts}
    for sheet in all_sheets():
        for field in (sheet.field(name) for one in sheet.receives for name in one.blends):
            portions = [
                Portion(holding[pk].held / GRAMS_A_KILOGRAM, figure)
                for pk, (record, version) in typed.items()
                if record.kind == sheet.kind and (figure := _figure(field, typed_of(version)[0])) is not None
            ]
            if portions:
                left_out = len(holding) - len(portions)
                note = "by mass" if not left_out else f"by mass; {left_out} of {len(holding)} lots tell none"
                mean = figures.number(blended(portions), field.decimals)
                yield pages.Fact(field.label, mean, unit_of(field), note=note)


def _figure(field: Field, typed: dict[str, str]) -> float | None:
    text = typed.get(field.name, "")
    try:
        return float(read_number(field, text)) if text else None
    except Unreadable:
        return None
