"""The page on which one thing of a stock take is counted: a vessel gauged, a cask weighed or not found, a lot counted.

The book stands beside a saved count alone. What is apart is counted again first; then the page asks for a reason.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from urllib.parse import urlencode

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone

from batches.counting import counting, walking
from batches.counting.measuring import boxes_of, sheet_counting
from batches.counting.models import Count, StockTake
from batches.counting.standing import named
from batches.counting.walking import Counts
from batches.pages.common import hands_of, signed_on
from batches.pages.counting.forms import BottlesForm, ReadingsForm, ReasonForm
from batches.pages.counting.lists import book_of, counts_state
from batches.pages.counting.views import take_or_404
from batches.pages.counting.walks import lot_address, vessel_address
from batches.pages.handing.forms import WordsForm
from batches.records.recording import Busy
from batches.sheets.sheet import STANDING_CAUTION, Counted, Sheet
from batches.sheets.typed.read_sheet import Unfit
from distillery import figures, pages
from distillery.drafts import showing as drafts
from distillery.people.roles import WRITERS, may_write, needs
from distillery.plant.models import Cask, Vessel
from ledger.models import Account
from ledger.views.ways import books_places

SEEN_SERIAL = "counted_before"


@dataclass(frozen=True, slots=True)
class Thing:
    """What one of these pages counts: its name, its counts, the walk that it belongs to and the next thing there."""

    take: StockTake
    title: str
    counts: Counts | None
    back: str
    following: Callable[[], str]
    caution: str = ""
    note: str = ""
    not_found: str = ""


@needs(WRITERS)
def count_vessel(request: HttpRequest, serial: int, code: str) -> HttpResponse:
    """Gauges a vessel."""
    take = take_or_404(serial)
    lines = walking.vessels_of(take)
    line = next((one for one in lines if one.vessel.code == code), None)
    if line is None:
        raise Http404(f"{take.number} does not count {code}.")
    sheet = sheet_counting(Counted.VESSEL)

    def following() -> str:
        left = [one for one in walking.vessels_of(take) if one.counts is None]
        return vessel_address(take, left[0].vessel.code) if left else reverse("stock_take_vessels", args=[serial])

    thing = Thing(
        take,
        f"{line.vessel.code} {line.vessel.name}",
        line.counts,
        reverse("stock_take_vessels", args=[serial]),
        following,
        _caution(sheet),
    )
    form = _readings(sheet, line.vessel, request)

    def keep(seen: int) -> Count:
        return counting.count_vessel(
            take, code, form.typed(), seen=seen, person=signed_on(request), hands=hands_of(request)
        )

    return _counted(request, thing, form, keep)


@needs(WRITERS)
def weigh_cask(request: HttpRequest, serial: int, code: str) -> HttpResponse:
    """Weighs and proves a cask; it has been seen then too."""
    take = take_or_404(serial)
    place = _place(request, take)
    cask = Cask.objects.filter(vessel__code=code).select_related("vessel").first()
    if cask is None:
        raise Http404(f"There is no cask {code}.")
    sheet = sheet_counting(Counted.CASK)
    back = f"{reverse('stock_take_casks', args=[serial])}?{urlencode({'in': place})}"
    thing = Thing(
        take,
        f"Cask {code}",
        walking.counts_of(take, [cask.pk]).get(cask.pk),
        back,
        lambda: back,
        _caution(sheet),
        "It belongs to the sample: weigh it." if walking.is_weighed(take, cask) else "It may be weighed; it need not.",
        f"{reverse('stock_take_not_found', args=[serial, code])}?{urlencode({'in': place})}",
    )
    form = _readings(sheet, cask.vessel, request)

    def keep(seen: int) -> Count:
        return counting.weigh_cask(
            take, code, form.typed(), place=place, seen=seen, person=signed_on(request), hands=hands_of(request)
        )

    return _counted(request, thing, form, keep)


@needs(WRITERS)
def cask_not_found(request: HttpRequest, serial: int, code: str) -> HttpResponse:
    """Says that a cask is not where the books have it."""
    take = take_or_404(serial)
    place = _place(request, take)
    back = f"{reverse('stock_take_casks', args=[serial])}?{urlencode({'in': place})}"
    help_text = "Where it was looked for, and who was asked. It stands on the result."
    form = ReasonForm("What was done to find it", request.POST or None, help_text=help_text)
    if request.method == "POST":
        try:
            counting.not_found(
                take, place, code, form.text("reason"), person=signed_on(request), hands=hands_of(request)
            )
        except (Unfit, Busy) as error:
            form.mark(error)
        else:
            drafts.saved(request)
            messages.success(request, f"Saved {figures.clock(timezone.now())}: cask {code} was not found.")
            return redirect(back)
    heading = f"Cask {code} is not found"
    explained = (
        "Its book stays as it is. A cask that stays missing is lost alcohol: a manager writes what became of it, and "
        "duty may become due from the day on which it was missed."
    )
    return render(
        request,
        "batches/reason.html",
        {
            "area": "books",
            "heading": heading,
            "explained": explained,
            "form": form,
            "submit": "Save that it was not found",
            "cancel": back,
            "drafting": drafts.of_page(request, form, heading),
        },
    )


@needs(WRITERS)
def count_lot(request: HttpRequest, serial: int, stock: int) -> HttpResponse:
    """Counts the bottles of a lot."""
    take, lot = take_or_404(serial), request.GET.get("lot", "")
    account = Account.objects.filter(pk=stock).first()
    line = next(
        (
            one
            for one in walking.lots_of(take)
            if account and one.stock == account and one.lot.casefold() == lot.casefold()
        ),
        None,
    )
    if account is None or line is None:
        raise Http404(f"{take.number} does not count that lot.")

    def following() -> str:
        left = [one for one in walking.lots_of(take) if one.counts is None]
        return lot_address(take, left[0].stock.pk, left[0].lot) if left else back

    back = reverse("stock_take_bottles", args=[serial])
    sheet = sheet_counting(Counted.BOTTLES)
    title = f"{account.name}, lot {line.lot or 'not known'}"
    thing = Thing(take, title, line.counts, back, following, _caution(sheet))
    form = BottlesForm(request.POST if _is_count(request) else None)

    def keep(seen: int) -> Count:
        return counting.count_bottles(
            take, account, line.lot, form.typed(), seen=seen, person=signed_on(request), hands=hands_of(request)
        )

    return _counted(request, thing, form, keep)


def _counted(request: HttpRequest, thing: Thing, form: WordsForm, keep: Callable[[int], Count]) -> HttpResponse:
    """The page of one thing: its boxes, what was counted, and what comes next."""
    asks_why = thing.counts is not None and thing.counts.asks_reason
    why = ReasonForm(
        "Reason",
        request.POST if request.method == "POST" and not _is_count(request) else None,
        help_text="Why it is apart from the book, as far as is known; 'not known' may be said.",
    )
    if request.method == "POST":
        try:
            if _is_count(request):
                count = keep(_serial(request))
            else:
                assert thing.counts is not None
                counting.give_reason(thing.take, thing.counts.last, why.text("reason"), person=signed_on(request))
        except (Unfit, Busy) as error:
            (form if _is_count(request) else why).mark(error)
        except AssertionError:
            why.add_error(None, "It is not counted yet; count it first.")
        else:
            drafts.saved(request)
            if not _is_count(request):
                messages.success(request, f"Saved {figures.clock(timezone.now())}: the reason for {thing.title}.")
                return redirect(thing.following())
            messages.success(request, _said(count))
            return redirect(request.get_full_path() if count.apart else thing.following())
    counts = thing.counts
    if asks_why and not form.is_bound:
        # What comes next is the reason; a count once more is there below it.
        for field in form.fields.values():
            field.widget.attrs.pop("autofocus", None)
        why.fields["reason"].widget.attrs["autofocus"] = True
    return render(
        request,
        "counting/count.html",
        {
            "area": "books",
            "density": "wet-hands",
            "places": books_places("stock_takes"),
            "take": thing.take,
            "thing": thing,
            "form": form,
            "why": why if asks_why else None,
            "counts": _table(counts) if counts is not None else None,
            "state": counts_state(counts),
            "before": counts.last.serial if counts is not None else 0,
            "again": counts is not None and counts.last.pure_ul is not None,
            "ended": hasattr(thing.take, "ending"),
            "may_write": may_write(signed_on(request)),
            "drafting": drafts.of_page(request, form, f"{thing.take.number}: {thing.title}"),
        },
    )


def _said(count: Count) -> str:
    """What is said once a count is saved; a count that is apart asks for what comes next."""
    saved = f"Saved {figures.clock(count.written_at)}: {named(count)}"
    if count.apart and count.measured_first is None:
        return f"{saved}. It is apart from the book: count it again. Your first count is kept."
    if count.apart:
        return f"{saved}, {figures.difference_said(count.missing_ul or 0)} after a second count. Write a reason."
    if count.how == Count.How.NOTED:
        return f"{saved}, noted. {count.remark}"
    return f"{saved}. It agrees with the book as far as the site asks."


def _table(counts: Counts) -> pages.Table:
    """The first count and the last, beside the book that each met."""
    columns = (
        pages.Column("Count"),
        pages.Column("Counted"),
        pages.Column("By"),
        pages.Column("Found", numeric=True),
        pages.Column("Book", numeric=True),
        pages.Column("Difference", numeric=True, unit="LPA"),
    )
    both = [("First", counts.first), ("Last", counts.last)] if counts.first else [("Last", counts.last)]
    rows = [pages.Row(_cells(said, one)) for said, one in both if one is not None]
    return pages.Table("What was counted, beside the book", columns, rows, empty="")


def _cells(said: str, one: Count) -> list[pages.Cell]:
    if one.bottles is not None:
        found, book = f"{figures.count(one.bottles)} bottles", f"{figures.count(one.book_bottles or 0)} bottles"
    else:
        found = one.get_how_display() if one.pure_ul is None else f"{figures.lpa(one.pure_ul)} LPA"
        book = "" if (book_ul := book_of(one)) is None else f"{figures.lpa(book_ul)} LPA"
    missing = "" if one.missing_ul is None else figures.difference(one.missing_ul)
    texts = (said, figures.moment(one.at), one.person.shown_name, found, book, missing)
    return [pages.Cell(text) for text in texts]


def _readings(sheet: Sheet, vessel: Vessel, request: HttpRequest) -> ReadingsForm:
    return ReadingsForm(sheet, vessel, boxes_of(sheet), request.POST if _is_count(request) else None)


def _is_count(request: HttpRequest) -> bool:
    return request.method == "POST" and SEEN_SERIAL in request.POST


def _serial(request: HttpRequest) -> int:
    typed = request.POST.get(SEEN_SERIAL, "")
    return int(typed) if typed.isascii() and typed.isdigit() and len(typed) < 6 else 0


def _place(request: HttpRequest, take: StockTake) -> str:
    place = request.GET.get("in", "")
    if place not in {one["warehouse"] for one in take.planned["warehouses"]}:
        raise Http404(f"{take.number} does not go into {place or 'a warehouse'}.")
    return place


def _caution(sheet: Sheet) -> str:
    return " ".join((*(one.sentence for one in sheet.cautions), STANDING_CAUTION)) if sheet.cautions else ""
