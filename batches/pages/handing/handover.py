"""The handover: written by who goes, read and signed by who comes; the list of earlier ones, and the sheet on paper."""

from __future__ import annotations

from itertools import groupby

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from batches.handover.handing import hand_over, handovers, last_handover, lines_of, shown_of, take_over
from batches.handover.models import Handover
from batches.handover.what_stands import NOTHING, Line, what_stands
from batches.pages.common import signed_on
from batches.pages.handing.forms import HandoverForm, TakeForm
from batches.pages.handing.lists import ByPersonAndDay, HandoverTable, taken_of
from batches.pages.handing.printed import handover_sheet
from batches.records.recording import Busy
from batches.sheets.read_sheet import Unfit
from distillery import figures, pages
from distillery.drafts import showing as drafts
from distillery.lists.showing import listed
from distillery.people.roles import WRITERS, may_write, needs
from distillery.signed import SEEN, SEEN_WORDS, MovedOn, carried, changed, read_words


def handover_list(request: HttpRequest) -> HttpResponseBase:
    """All handovers, the newest first."""
    found = listed(request, HandoverTable, handovers(), ByPersonAndDay)
    if found.file is not None:
        return found.file
    shown = {"area": "shift", "handovers": found.table, "may_write": may_write(signed_on(request))}
    return render(request, "handover/handovers.html", shown)


@needs(WRITERS)
def handover_new(request: HttpRequest) -> HttpResponse:
    """Writes and signs a handover. What stands is looked up as it is saved, and shown here as it is now."""
    form = HandoverForm(request.POST if request.method == "POST" else None)
    if request.method == "POST":
        try:
            written = hand_over(form.text("text"), person=signed_on(request))
        except (Unfit, Busy) as error:
            form.mark(error)
        else:
            drafts.saved(request)
            messages.success(request, f"Signed {figures.clock(timezone.now())}. Who comes on shift signs it next.")
            return redirect("handover", number=written.pk)
    return render(
        request,
        "handover/new.html",
        {
            "area": "shift",
            "density": "wet-hands",
            "form": form,
            "stands": grouped(what_stands()),
            "nothing": NOTHING,
            "drafting": drafts.of_page(request, form, "Handover"),
        },
    )


def handover_page(request: HttpRequest, number: int) -> HttpResponse:
    """One handover: what stood, what was said, who signed."""
    return _page(request, _one(number), TakeForm())


@needs(WRITERS)
@require_POST
def handover_take(request: HttpRequest, number: int) -> HttpResponse:
    """The second name, under the handover that was on the page."""
    handover, form = _one(number), TakeForm(request.POST)
    person = signed_on(request)
    seen = request.POST.get(SEEN, "")
    try:
        take_over(handover, person=person, seen=seen, text=form.text("text"))
    except MovedOn as error:
        newest = last_handover()
        words = changed(read_words(seen, request.POST.get(SEEN_WORDS, "")), error.now)
        shown = {"area": "shift", "sentence": error.sentence, "both": _both(words), "newest": newest}
        return render(request, "handover/moved_on.html", shown, status=409)
    except (Unfit, Busy) as error:
        form.mark(error)
        return _page(request, _one(number), form)
    messages.success(request, f"Signed {figures.clock(timezone.now())}: the shift is yours, {person.shown_name}.")
    return redirect("handover", number=handover.pk)


def handover_pdf(request: HttpRequest, number: int) -> HttpResponse:
    """The sheet on paper."""
    handover = _one(number)
    pdf = handover_sheet(handover, printed_at=timezone.now(), printed_by=signed_on(request).shown_name)
    answer = HttpResponse(pdf, "application/pdf")
    answer["Content-Disposition"] = f'inline; filename="Handover {handover.pk}.pdf"'
    return answer


def _one(number: int) -> Handover:
    return get_object_or_404(handovers(), pk=number)


def _page(request: HttpRequest, handover: Handover, form: TakeForm) -> HttpResponse:
    person = signed_on(request)
    newest = last_handover()
    waits = taken_of(handover) is None and newest is not None and newest.pk == handover.pk
    return render(
        request,
        "handover/handover.html",
        {
            "area": "shift",
            "density": "wet-hands",
            "handover": handover,
            "taken": taken_of(handover),
            "stands": grouped(lines_of(handover)),
            "waits": waits,
            "replaced": taken_of(handover) is None and not waits,
            "may_take": waits and may_write(person) and person != handover.person,
            "form": form,
            "seen": carried(shown_of(handover)),
        },
    )


def grouped(lines: list[Line]) -> list[tuple[str, list[str]]]:
    """Lines under their headings, in order."""
    return [(heading, [text for _, text in same]) for heading, same in groupby(lines, key=lambda line: line[0])]


def _both(words: list[tuple[str, str, str]]) -> pages.Table:
    rows = [
        pages.Row([pages.Cell(label), pages.Cell(was or "nothing"), pages.Cell(now or "nothing")])
        for label, was, now in words
    ]
    columns = (pages.Column("What"), pages.Column("On your page"), pages.Column("As it stands now"))
    return pages.Table("Both handovers", columns, rows, empty="Your page did not say what was on it.")
