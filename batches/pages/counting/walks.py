"""The walk lists of a stock take: vessels in order, casks as they lie, by scan or tick, bottled stock by lot."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from batches.counting import counting, walking
from batches.counting.models import StockTake
from batches.pages.common import hands_of, signed_on
from batches.pages.counting.forms import ScanForm
from batches.pages.counting.lists import CaskWalkTable, LotWalkTable, VesselWalkTable, cask_address
from batches.pages.counting.views import sentences_of, take_or_404
from batches.records.recording import Busy
from batches.sheets.cautions import CASKS, GLASS, VAPOUR
from batches.sheets.sheet import STANDING_CAUTION
from batches.sheets.typed.moments import NOW
from batches.sheets.typed.read_sheet import Unfit
from distillery import figures
from distillery.lists.showing import listed
from distillery.people.roles import WRITERS, may_write, needs
from ledger.views.ways import books_places


def _page(request: HttpRequest, take: StockTake, table: Any, **more: Any) -> HttpResponse:
    return render(
        request,
        "counting/walk.html",
        {
            "area": "books",
            "places": books_places("stock_takes"),
            "take": take,
            "walk": table,
            "writes": may_write(signed_on(request)) and not hasattr(take, "ending"),
            **more,
        },
    )


def walk_vessels(request: HttpRequest, serial: int) -> HttpResponseBase:
    """The vessels of a stock take."""
    take = take_or_404(serial)
    rows: list[Any] = [_with_way(one, vessel_address(take, one.vessel.code)) for one in walking.vessels_of(take)]
    found = listed(request, VesselWalkTable, rows, prefix="walk")
    if found.file is not None:
        return found.file
    first = next((one.href for one in rows if one.counts is None), "")
    return _page(request, take, found.table, name="Vessels", next=first, caution=_caution(VAPOUR.sentence))


def walk_bottles(request: HttpRequest, serial: int) -> HttpResponseBase:
    """The lots of bottles of a stock take."""
    take = take_or_404(serial)
    rows: list[Any] = [_with_way(one, lot_address(take, one.stock.pk, one.lot)) for one in walking.lots_of(take)]
    found = listed(request, LotWalkTable, rows, prefix="walk")
    if found.file is not None:
        return found.file
    first = next((one.href for one in rows if one.counts is None), "")
    return _page(request, take, found.table, name="Bottled stock", next=first, caution=_caution(GLASS.sentence))


def walk_casks(request: HttpRequest, serial: int) -> HttpResponseBase:
    """The casks of a warehouse as they lie; `?row=` shows one row, `?left=1` what is left. Those of the page that
    are not counted can be ticked.
    """
    take, place = _in(request, serial)
    return _casks_page(request, take, place, ScanForm())


def _casks_page(
    request: HttpRequest, take: StockTake, place: str, form: ScanForm, ticked: Collection[str] = (), at: str = NOW
) -> HttpResponseBase:
    row = request.GET.get("row", "").strip()
    casks = walking.casks_of(take, place)
    if row:
        casks = casks.filter(row=row)
    only_left = "left" in request.GET
    if only_left:
        casks = walking.left_of(take, casks)
    found = listed(request, CaskWalkTable, casks, prefix="walk", take=take, place=place)
    if found.file is not None:
        return found.file
    rows = list(found.table.page.object_list)
    found.table.prepare(rows)
    return _page(
        request,
        take,
        found.table,
        name=place,
        place=place,
        row=row,
        only_left=only_left,
        left=[(one, one.vessel.code in ticked) for one in rows if one.counts is None],
        form=form,
        at=at,
        see=f"{reverse('stock_take_see', args=[take.serial])}?{request.GET.urlencode()}",
        caution=_caution(CASKS.sentence, VAPOUR.sentence),
    )


@needs(WRITERS)
@require_POST
def see_casks(request: HttpRequest, serial: int) -> HttpResponseBase:
    """Casks that were scanned or ticked."""
    take, place = _in(request, serial)
    back = f"{reverse('stock_take_casks', args=[serial])}?{request.GET.urlencode()}"
    scanned = "cask" in request.POST
    at = request.POST.get("at", "").strip() or NOW
    codes = [request.POST.get("cask", "")] if scanned else request.POST.getlist("seen")
    if not codes:
        messages.error(request, "Nothing was ticked; tick the casks that you saw, then save.")
        return redirect(back)
    try:
        counts = counting.see_casks(take, place, codes, at=at, person=signed_on(request), hands=hands_of(request))
    except (Unfit, Busy) as error:
        if not scanned:
            for sentence in sentences_of(error):
                messages.error(request, sentence)
            return _casks_page(request, take, place, ScanForm(), codes, at)
        form = ScanForm(request.POST)
        form.mark(error)
        return _casks_page(request, take, place, form)
    [last] = counts[-1:]
    assert last.vessel is not None
    cask = last.vessel.cask
    if scanned and walking.is_weighed(take, cask) and last.how == last.How.SEEN:
        messages.info(request, f"{last.vessel.code} is seen, and belongs to the sample: weigh it.")
        return redirect(cask_address(take, place, last.vessel.code))
    said = f"{last.vessel.code} seen" if scanned else f"{len(counts)} casks seen"
    messages.success(request, f"{said}, saved {figures.clock(timezone.now())}. {last.remark}".strip())
    return redirect(back)


def _in(request: HttpRequest, serial: int) -> tuple[StockTake, str]:
    """The stock take and the warehouse of an address. Raises Http404 for a place that it does not go into."""
    take = take_or_404(serial)
    warehouses = [one["warehouse"] for one in take.planned["warehouses"]]
    place = request.GET.get("in", "") or next(iter(warehouses), "")
    if place not in warehouses:
        raise Http404(f"{take.number} does not go into {place or 'a warehouse'}.")
    return take, place


def _caution(*sentences: str) -> str:
    return " ".join((*sentences, STANDING_CAUTION))


class _Way:
    """A row of a walk with the page on which it is counted."""

    def __init__(self, row: Any, href: str) -> None:
        self._row, self.href = row, href

    def __getattr__(self, name: str) -> Any:
        return getattr(self._row, name)


def _with_way(row: Any, href: str) -> _Way:
    return _Way(row, href)


def vessel_address(take: StockTake, code: str) -> str:
    """The page on which a vessel is counted."""
    return reverse("stock_take_vessel", args=[take.serial, code])


def lot_address(take: StockTake, stock: int, lot: str) -> str:
    """The page on which a lot of bottles is counted."""
    return f"{reverse('stock_take_lot', args=[take.serial, stock])}?{urlencode({'lot': lot})}"
