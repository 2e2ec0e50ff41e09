"""What something touched, marking it as recalled, ending that in two names, and the list of all recalls."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from batches.pages.common import signed_on
from batches.pages.handing.forms import WordsForm, words_box
from batches.pages.recalling.facts import facts_of
from batches.pages.recalling.found import found_by
from batches.pages.recalling.lists import (
    BottledTable,
    InPlaceTable,
    InStockTable,
    LeftTable,
    OtherTable,
    RecallTable,
    recall_state,
)
from batches.pages.recalling.printed import recall_pdf
from batches.pages.tracing.names import trace_address
from batches.pages.tracing.views import asked_for
from batches.recalls import recalling
from batches.records.recording import Busy
from batches.sheets.typed.read_sheet import Unfit
from batches.tracing.trace import NoSuchReference, Trace, follow_trace, refer
from distillery import figures
from distillery.drafts import showing as drafts
from distillery.lists.showing import first_file, listed
from distillery.people.roles import WRITERS, may_write, needs
from distillery.signed import SEEN, MovedOn, carried


class ReasonForm(WordsForm):
    """Why something is recalled, or a recall may end."""

    def __init__(self, data: Any = None) -> None:
        super().__init__(data)
        self.fields["reason"] = words_box("Why", help_text="In a few words; it is kept with your name and the time.")


def recalls(request: HttpRequest) -> HttpResponseBase:
    """Everything that was ever recalled."""
    found = listed(request, RecallTable, recalling.recalls())
    if found.file is not None:
        return found.file
    return render(request, "batches/recalls.html", {"area": "records", "recalls": found.table})


def recall(request: HttpRequest) -> HttpResponseBase:
    """What a number touched, and whether it is recalled."""
    trace = _trace(request)
    if trace is None:
        return redirect("recalls")
    found, ref = found_by(trace), trace.start.ref
    places = listed(request, InPlaceTable, found.in_places, prefix="in-places")
    stock = listed(request, InStockTable, found.in_stock, prefix="in-stock")
    bottled = listed(request, BottledTable, found.bottled, prefix="bottled")
    left = listed(request, LeftTable, found.left, prefix="left")
    others = listed(request, OtherTable, found.others, prefix="others")
    if (file := first_file(places, stock, bottled, left, others)) is not None:
        return file
    person = signed_on(request)
    writes = may_write(person)
    own = recalling.recalls().filter(ref=ref)
    standing = own.filter(ended__isnull=True).first()
    asked_by = standing.end_asked.person if standing is not None and hasattr(standing, "end_asked") else None
    return render(
        request,
        "batches/recall.html",
        {
            "area": "records",
            "asked": ref,
            "what": trace.start.what,
            "facts": facts_of(found),
            "lists": [one.table for one in (left, stock, bottled, places, others)],
            "standing": standing,
            "state": recall_state(standing) if standing is not None else None,
            "shown": recalling.shown_of(standing) if standing is not None else {},
            "ended": [one for one in own if hasattr(one, "ended")],
            "may_recall": writes and standing is None,
            "may_ask_end": writes and standing is not None and asked_by is None,
            "may_agree": writes and asked_by is not None and asked_by != person,
            "waits_for_another": asked_by == person,
            "seen": carried(recalling.shown_of(standing)) if standing is not None else None,
            "trace": trace_address(ref),
            "pdf": trace_address(ref, "recall_pdf"),
            "mark": trace_address(ref, "recall_new"),
        },
    )


def recall_print(request: HttpRequest) -> HttpResponse:
    """The same on paper, as the books stand."""
    trace = _trace(request)
    if trace is None:
        return redirect("recalls")
    standing = recalling.standing().filter(ref=trace.start.ref).first()
    printed = recall_pdf(
        trace, found_by(trace), standing, printed_at=timezone.now(), printed_by=signed_on(request).shown_name
    )
    answer = HttpResponse(printed, content_type="application/pdf")
    answer["Content-Disposition"] = 'inline; filename="recall.pdf"'
    return answer


@needs(WRITERS)
def recall_new(request: HttpRequest) -> HttpResponse:
    """Marks a number as recalled, with the reason."""
    trace = _trace(request)
    if trace is None:
        return redirect("recalls")
    ref = trace.start.ref
    form = ReasonForm(request.POST if request.method == "POST" else None)
    if request.method == "POST":
        try:
            recalling.recall(ref, person=signed_on(request), reason=form.text("reason"))
        except (Unfit, Busy) as error:
            form.mark(error)
        else:
            drafts.saved(request)
            messages.success(request, f"Recalled {figures.clock(timezone.now())}. All that it touched says so now.")
            return redirect(trace_address(ref, "recall"))
    return _reason(
        request,
        form,
        f"Recall {trace.start.what} {ref}",
        "Records, casks, vessels and bottles that have some of it in them will say so, and a removal of them asks "
        "first. Two people end it. Whom to warn, and what has to be reported, is for the site and its officer to say.",
        "Recall it",
        trace_address(ref, "recall"),
    )


@needs(WRITERS)
def recall_end(request: HttpRequest, number: int) -> HttpResponse:
    """Asks for the end of a recall, with the reason; somebody else agrees."""
    one = get_object_or_404(recalling.recalls(), pk=number)
    form = ReasonForm(request.POST if request.method == "POST" else None)
    back = trace_address(one.ref, "recall")
    if request.method == "POST":
        try:
            recalling.ask_end(one, person=signed_on(request), reason=form.text("reason"))
        except (Unfit, Busy) as error:
            form.mark(error)
        else:
            drafts.saved(request)
            messages.success(request, f"Asked {figures.clock(timezone.now())}. Somebody else has to agree.")
            return redirect(back)
    explained = f"{one.what.capitalize()} {one.ref} was recalled by {one.person.shown_name}: {one.reason}"
    return _reason(request, form, "End a recall", explained, "Ask for its end", back)


@needs(WRITERS)
@require_POST
def recall_agree(request: HttpRequest, number: int) -> HttpResponse:
    """The second name under the end of a recall, under what was on the page."""
    one = get_object_or_404(recalling.recalls(), pk=number)
    try:
        recalling.agree_end(one, person=signed_on(request), seen=request.POST.get(SEEN, ""))
    except MovedOn as error:
        messages.error(request, error.sentence)
    except (Unfit, Busy) as error:
        messages.error(request, str(error))
    else:
        messages.success(request, f"Ended {figures.clock(timezone.now())}: {one.ref} is no longer recalled.")
    return redirect(trace_address(one.ref, "recall"))


def _reason(
    request: HttpRequest, form: ReasonForm, heading: str, explained: str, submit: str, cancel: str
) -> HttpResponse:
    return render(
        request,
        "batches/reason.html",
        {
            "area": "records",
            "heading": heading,
            "explained": explained,
            "form": form,
            "submit": submit,
            "cancel": cancel,
            "drafting": drafts.of_page(request, form, heading),
        },
    )


def _trace(request: HttpRequest) -> Trace | None:
    """The trace of the number in the address; None where there is no number. Http404 for one that is not here."""
    ref = asked_for(request)
    if not ref:
        return None
    try:
        return follow_trace(refer(ref))
    except NoSuchReference as error:
        raise Http404(str(error)) from error
