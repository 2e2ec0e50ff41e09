"""One enquiry: what it is about, what stands behind it and what was done; opened, added to, tied and printed.

The pages decide nothing: `ledger.enquiries` says what may be done and writes it down.
"""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.urls import reverse
from django.utils import timezone

from distillery import signed
from distillery.drafts import showing as drafts
from distillery.figures import clock
from distillery.people.roles import WRITERS, needs
from ledger.comparing.findings.finding import Finding
from ledger.enquiries import answering
from ledger.enquiries.looking import try_month
from ledger.enquiries.models import What
from ledger.enquiries.opening import Unanswerable, open_by_hand
from ledger.enquiries.printed import enquiry_pdf as printed_enquiry
from ledger.enquiries.seen import tie_as_seen
from ledger.enquiries.standing import UNANSWERED, of_period
from ledger.enquiries.whole import open_whole
from ledger.models import Movement
from ledger.periods import period_of
from ledger.views.enquiries.answer_parts import ADDS
from ledger.views.enquiries.forms import AddForm, OpenForm, TieForm
from ledger.views.enquiries.page import Forms, enquiry_page
from ledger.views.enquiries.page_parts import act_page, signed_on, standing_or_404, to_enquiry
from ledger.views.enquiries.signing import moved_table
from ledger.views.ways import record_href


def enquiry(request: HttpRequest, number: str) -> HttpResponse:
    """All there is to know about one enquiry, and what can be done next."""
    return enquiry_page(request, standing_or_404(number))


@needs(WRITERS)
def enquiry_add(request: HttpRequest, number: str) -> HttpResponse:
    """Adds what was done."""
    standing = standing_or_404(number)
    if request.method != "POST":
        return to_enquiry(standing.enquiry)
    form = AddForm(request.POST)
    try:
        answering.note(
            standing.enquiry, What(form.text("what") or What.NOTE), form.text("words"), person=signed_on(request)
        )
    except Unanswerable as error:
        form.mark(error)
        return enquiry_page(request, standing, Forms(adding=form), act=ADDS)
    drafts.saved(request)
    messages.success(request, f"Saved {clock(timezone.now())}.")
    return to_enquiry(standing.enquiry)


@needs(WRITERS)
def enquiry_open(request: HttpRequest, kind: str, record: str) -> HttpResponse:
    """A person opens an enquiry on a record, or on all the runs of a watch that is named in the address."""
    form = OpenForm(request.POST if request.method == "POST" else None)
    whole = _watch_about(record, request.GET["whole"]) if request.GET.get("whole") else None
    if request.method == "POST":
        person, why = signed_on(request), form.text("words")
        try:
            if whole is not None:
                opened = open_whole(whole, person=person, why=why)
            else:
                opened = open_by_hand(kind, record, person=person, why=why)
        except Unanswerable as error:
            form.mark(error)
        else:
            drafts.saved(request)
            messages.success(request, f"{opened.number} is open; the month cannot be closed before it is answered.")
            return to_enquiry(opened)
    if whole is not None:
        return act_page(
            request,
            form,
            heading=f"Open an enquiry: {whole.operation}, {len(whole.runs)} runs",
            submit="Open the enquiry",
            cancel=reverse(
                "finding",
                kwargs={
                    "period": period_of(whole.at),
                    "record": whole.record,
                },
            ),
            explained=f"{whole.sentence} It is enquired into and answered as a whole, over {whole.runs[0].record} to "
            f"{whole.runs[-1].record}; runs that follow are taken in until it is answered.",
        )
    return act_page(
        request,
        form,
        heading=f"Open an enquiry on {record}",
        submit="Open the enquiry",
        cancel=record_href(kind, record),
        explained="For anything that has to be looked into and that the figures do not show by themselves.",
    )


def _watch_about(record: str, key: str) -> Finding:
    newest = Movement.objects.filter(record_number=record).order_by("-happened_at").first()
    if newest is None:
        raise Http404(f"Nothing of {record} is in the books.")
    compared = try_month(period_of(newest.took_place_at)).findings
    found = next((one for one in compared if one.key == key), None)
    if found is None or not found.runs:
        raise Http404("Nothing leans one way there any more; look at the findings again.")
    return found


@needs(WRITERS)
def enquiry_tie(request: HttpRequest, number: str) -> HttpResponse:
    """Ties a loss with a gain that is shown to be related."""
    standing = standing_or_404(number)
    about = standing.enquiry
    others = [one for one in of_period(about.period) if one.enquiry.pk != about.pk and one.state in UNANSWERED]
    form = TieForm(others, request.POST if request.method == "POST" else None)
    moved = None
    if request.method == "POST":
        chosen = next((one.enquiry for one in others if one.enquiry.number == form.text("other")), about)
        try:
            answering.tie(
                about,
                chosen,
                person=signed_on(request),
                reason=form.text("reason"),
                seen=request.POST.get(signed.SEEN, ""),
            )
        except Unanswerable as error:
            form.mark(error)
        except signed.MovedOn as error:
            form.add_error(None, error.sentence)
            moved = moved_table(request.POST, error)
        else:
            drafts.saved(request)
            messages.success(request, f"{about.number} and {chosen.number} are tied.")
            return to_enquiry(about)
    return act_page(
        request,
        form,
        heading=f"Tie {about.number} with another enquiry",
        submit="Tie the two",
        cancel=reverse("enquiry", kwargs={"number": about.number}),
        explained="Losses and gains are listed apart and never set off by adding up. Where one is shown to have caused "
        "the other, say what shows it. The two can then be ended together.",
        moved=moved,
        seen=signed.carried(tie_as_seen(about)),
    )


def enquiry_pdf(request: HttpRequest, number: str) -> HttpResponse:
    """The printed enquiry."""
    standing = standing_or_404(number)
    pdf = printed_enquiry(standing, printed_at=timezone.now(), printed_by=signed_on(request).shown_name)
    answer = HttpResponse(pdf, "application/pdf")
    answer["Content-Disposition"] = f'inline; filename="{standing.enquiry.number}.pdf"'
    return answer
