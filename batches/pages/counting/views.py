"""Stock takes: all of them, a new one, and how far one is until two people have put their names to it."""

from __future__ import annotations

from collections.abc import Sequence
from urllib.parse import urlencode

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from batches.counting import ending, planning, standing
from batches.counting.models import Count, Ready, StockTake
from batches.counting.planning import stock_takes
from batches.counting.walking import Counts
from batches.pages.common import signed_on
from batches.pages.counting.forms import PlanForm, ReasonForm
from batches.pages.counting.lists import CountFilters, CountTable, TakeTable, counts_state, take_state
from batches.pages.counting.printed import counting_sheets_pdf, result_pdf
from batches.records.recording import Busy
from batches.sheets.typed.read_sheet import Unfit
from distillery import figures, pages
from distillery.drafts import showing as drafts
from distillery.lists.showing import listed
from distillery.pen.trying.again import NotShown, second_of
from distillery.people.roles import WRITERS, may_write, needs
from distillery.signed import SEEN, MovedOn, carried, digest_of
from ledger.posting.drafts import Refused
from ledger.views.ways import books_places

PLACES = "stock_takes"


def take_or_404(serial: int) -> StockTake:
    """The stock take of an address."""
    take = stock_takes().filter(serial=serial).first()
    if take is None:
        raise Http404(f"There is no stock take TK{serial:04d}.")
    return take


def takes(request: HttpRequest) -> HttpResponseBase:
    """All stock takes, the newest first."""
    found = listed(request, TakeTable, stock_takes())
    if found.file is not None:
        return found.file
    return render(
        request,
        "counting/takes.html",
        {
            "area": "books",
            "places": books_places(PLACES),
            "takes": found.table,
            "may_write": may_write(signed_on(request)),
        },
    )


@needs(WRITERS)
def take_new(request: HttpRequest) -> HttpResponse:
    """Plans a stock take."""
    form = PlanForm(request.POST if request.method == "POST" else None, everything="all" in request.GET)
    if request.method == "POST":
        try:
            take = planning.plan(form.planned(), person=signed_on(request))
        except (Unfit, Busy) as error:
            form.mark(error)
        else:
            messages.success(request, f"Planned {figures.clock(timezone.now())}: {take.number}. Counting can begin.")
            return redirect("stock_take", take.serial)
    return render(
        request, "counting/new.html", {"area": "books", "places": books_places(PLACES), "form": form, "density": "desk"}
    )


def take_page(request: HttpRequest, serial: int) -> HttpResponseBase:
    """How far a stock take is, place by place, what is apart, and who has to sign."""
    take = take_or_404(serial)
    rows = Count.objects.filter(take=take).select_related("vessel", "stock", "person", "reason").order_by("pk")
    counts = listed(request, CountTable, rows, CountFilters, prefix="counts")
    if counts.file is not None:
        return counts.file
    person = signed_on(request)
    ended = getattr(take, "ending", None)
    writes = may_write(person) and ended is None
    stand = standing.standing_of(take)
    shown = ending.shown_of(take, stand)
    ready = ending.ready_of(take)
    stands = ready is not None and ended is None and ready.digest == digest_of(shown)
    return render(
        request,
        "counting/take.html",
        {
            "area": "books",
            "places": books_places(PLACES),
            "take": take,
            "state": take_state(take),
            "ended": ended,
            "progress": progress_table(take, stand.places),
            "apart": apart_table(stand.apart),
            "elsewhere": [(standing.named(one), one.place, one.remark) for one in stand.elsewhere[:50]],
            "counts": counts.table,
            "writes": writes,
            "ready": ready if stands else None,
            "moved_on": ready is not None and ended is None and not stands,
            "may_agree": writes and stands and ready is not None and ready.person != person,
            "own": writes and stands and ready is not None and ready.person == person,
            "shown": shown,
            "seen": carried(shown),
            "records": _records(take),
        },
    )


def progress_table(take: StockTake, places: Sequence[standing.PlaceSoFar]) -> pages.Table:
    """How many of how many in each place, with the way there."""
    columns = (
        pages.Column("Place"),
        pages.Column("Counted", numeric=True),
        pages.Column("Of", numeric=True),
        pages.Column("Weighed", numeric=True),
    )
    rows = []
    for one in places:
        rows_said = f", row {', '.join(one.rows)}" if one.rows else ""
        weighed = figures.count(one.weighed) if one.warehouse and take.weigh_one_in else ""
        done = one.counted >= one.of
        rows.append(
            pages.Row(
                [
                    pages.Cell(
                        f"{one.name}{rows_said}",
                        href=walk_address(take, one.name, one.warehouse),
                        state=None if done else pages.State(pages.Kind.OPEN, f"{one.of - one.counted} left"),
                    ),
                    pages.Cell(figures.count(one.counted)),
                    pages.Cell(figures.count(one.of)),
                    pages.Cell(weighed),
                ]
            )
        )
    return pages.Table("Places in the order in which they are walked", columns, rows, empty="Nothing is planned.")


def walk_address(take: StockTake, name: str, warehouse: str) -> str:
    """The walk list of one place."""
    if warehouse:
        return f"{reverse('stock_take_casks', args=[take.serial])}?{urlencode({'in': warehouse})}"
    return reverse("stock_take_vessels" if name == standing.VESSELS else "stock_take_bottles", args=[take.serial])


def apart_table(apart: Sequence[Count]) -> pages.Table:
    """What is apart from the book: book, found, difference, and why."""
    columns = (
        pages.Column("What"),
        pages.Column("Book", numeric=True, unit="LPA"),
        pages.Column("First count", numeric=True, unit="LPA"),
        pages.Column("Last count", numeric=True, unit="LPA"),
        pages.Column("Difference", numeric=True, unit="LPA"),
        pages.Column("Counted by"),
        pages.Column("Reason"),
    )
    rows = []
    for one in apart[: standing.MOST_SHOWN]:
        before = one.measured_first
        reason = one.reason.text if hasattr(one, "reason") else one.remark
        rows.append(
            pages.Row(
                [
                    pages.Cell(standing.named(one), state=counts_state(Counts(one, before))),
                    pages.Cell(figures.lpa(one.book_ul)),
                    pages.Cell(_lpa(before.pure_ul if before is not None else None)),
                    pages.Cell(_lpa(one.pure_ul)),
                    pages.Cell("" if one.missing_ul is None else figures.difference(one.missing_ul)),
                    pages.Cell(one.person.shown_name),
                    pages.Cell(reason),
                ]
            )
        )
    return pages.Table("Apart from the book", columns, rows, empty="Nothing counted so far is apart from its book.")


def _lpa(pure_ul: int | None) -> str:
    return "" if pure_ul is None else figures.lpa(pure_ul)


def _records(take: StockTake) -> list[pages.Link]:
    ended = getattr(take, "ending", None)
    numbers = ended.numbers if ended is not None else []
    return [pages.Link(number, reverse("record", args=[kind, number])) for kind, number in numbers]


@needs(WRITERS)
@require_POST
def take_ready(request: HttpRequest, serial: int) -> HttpResponse:
    """Says that all is counted."""
    take = take_or_404(serial)
    try:
        made: Ready = ending.say_ready(take, person=signed_on(request))
    except (Unfit, Busy) as error:
        _say(request, error)
    else:
        said = f"Said {figures.clock(made.at)}: all of {take.number} is counted. Somebody else signs and posts it."
        messages.success(request, said)
    return redirect("stock_take", serial)


@needs(WRITERS)
@require_POST
def take_agree(request: HttpRequest, serial: int) -> HttpResponse:
    """The second name, under what was on the page; it posts the stock take."""
    take = take_or_404(serial)
    try:
        second = second_of(request) or signed_on(request)
        ended = ending.agree(take, second=second, seen=request.POST.get(SEEN, ""))
    except NotShown as refused:
        messages.error(request, refused.sentence)
    except MovedOn as moved:
        messages.error(request, moved.sentence)
    except (Unfit, Refused, Busy) as error:
        _say(request, error)
    else:
        number = len(ended.numbers)
        said = f"Posted {figures.clock(timezone.now())}: {take.number}, as {number} record{'s' if number != 1 else ''}."
        messages.success(request, said)
    return redirect("stock_take", serial)


def _say(request: HttpRequest, error: Unfit | Refused | Busy) -> None:
    for sentence in sentences_of(error)[: standing.MOST_SHOWN]:
        messages.error(request, sentence)


def sentences_of(error: Unfit | Refused | Busy) -> list[str]:
    """All that is wrong."""
    return [one.sentence for one in error.problems] if isinstance(error, Unfit) else [error.sentence]


@needs(WRITERS)
def take_give_up(request: HttpRequest, serial: int) -> HttpResponse:
    """Ends a stock take without posting it, with the reason."""
    take = take_or_404(serial)
    form = ReasonForm("Why", request.POST if request.method == "POST" else None)
    if request.method == "POST":
        try:
            ending.give_up(take, form.text("reason"), person=signed_on(request))
        except (Unfit, Busy) as error:
            form.mark(error)
        else:
            drafts.saved(request)
            messages.success(request, f"Given up {figures.clock(timezone.now())}. What was counted stays to be read.")
            return redirect("stock_take", serial)
    heading = f"Give up {take.number}"
    return render(
        request,
        "batches/reason.html",
        {
            "area": "books",
            "heading": heading,
            "explained": "Nothing of it is posted, and nothing more is counted in it. Its counts stay to be read.",
            "form": form,
            "submit": "Give it up",
            "cancel": reverse("stock_take", args=[serial]),
            "drafting": drafts.of_page(request, form, heading),
        },
    )


def take_pdf(request: HttpRequest, serial: int) -> HttpResponse:
    """The result on paper."""
    take = take_or_404(serial)
    printed = result_pdf(take, printed_at=timezone.now(), printed_by=signed_on(request).shown_name)
    return _inline(printed, f"{take.number}.pdf")


def take_sheets(request: HttpRequest, serial: int) -> HttpResponse:
    """Blank counting sheets in walking order; of one place where `?in=` names it."""
    take = take_or_404(serial)
    place = request.GET.get("in", "")
    if place and place not in {one.name for one in standing.so_far(take)}:
        raise Http404(f"{take.number} does not go into {place}.")
    printed = counting_sheets_pdf(take, place, printed_at=timezone.now(), printed_by=signed_on(request).shown_name)
    return _inline(printed, f"{take.number} counting sheets.pdf")


def _inline(printed: bytes, name: str) -> HttpResponse:
    answer = HttpResponse(printed, content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="{name}"'
    return answer
