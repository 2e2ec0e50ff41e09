"""How an enquiry ends by two people: proposed, agreed to or sent back, opened again."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from distillery import signed
from distillery.drafts import showing as drafts
from distillery.figures import clock, difference, difference_said
from distillery.pages import Cell, Column, Row, Table
from distillery.people.roles import EXPLAINERS, WRITERS, needs
from distillery.plant.models import MICRO, Stage
from ledger.enquiries import answering
from ledger.enquiries.balance import open_of
from ledger.enquiries.explaining import shown_amount
from ledger.enquiries.models import Enquiry, EnquiryEvent
from ledger.enquiries.opening import Unanswerable
from ledger.enquiries.seen import ending_as_seen
from ledger.enquiries.standing import proposal_of
from ledger.models import Gauge
from ledger.posting.drafts import Refused
from ledger.views.enquiries.forms import EnquiryForm, ProposalForm, ReasonForm, SecondForm
from ledger.views.enquiries.page_parts import act_page, signed_on, standing_or_404, to_enquiry
from ledger.views.enquiries.parts import proposal_facts
from ledger.views.enquiries.signing import moved_table
from ledger.views.ways import books_places

NOT_A_LOSS = "Nothing is posted. The difference stays in the month's account as a difference."


@needs(WRITERS)
def enquiry_propose(request: HttpRequest, number: str) -> HttpResponse:
    """Proposes how it ends: cause, what was checked, reason, and for a known loss the liquid that was lost."""
    standing = standing_or_404(number)
    about = standing.enquiry
    left_ul = open_of(about).open_ul
    form = ProposalForm(
        about, left_ul, request.POST if request.method == "POST" else None, initial=_suggested(about, left_ul)
    )
    if request.method == "POST":
        try:
            answering.propose(about, form.proposal(), person=signed_on(request))
        except Unanswerable as error:
            form.mark(error)
        else:
            drafts.saved(request)
            messages.success(request, f"Saved {clock(timezone.now())}. A second person has to agree before it counts.")
            return redirect("enquiry_agree", number=about.number)
    draft = drafts.of_page(request, form, f"{about.number}, how it ends")
    loss = [form[name] for name in form.LOSS_BOXES]
    return render(
        request,
        "ledger/enquiry_proposal.html",
        {
            "area": "books",
            "places": books_places("findings"),
            "enquiry": about,
            "drafting": draft,
            "left": difference_said(left_ul, 4),
            "is_gain": left_ul < 0,
            "form": form,
            "boxes": [field for field in form if field.name not in form.LOSS_BOXES],
            "loss_boxes": loss,
            "cancel": reverse("enquiry", kwargs={"number": about.number}),
        },
    )


def _suggested(about: Enquiry, left_ul: int) -> dict[str, str]:
    """What is known already: the open difference, when it arose, and the liquid of the record's last gauge."""
    parts = open_of(about).parts
    stage = parts[0].stage if parts else ""
    gauges = Gauge.objects.standing().filter(
        movement__record_kind=about.record_kind, movement__record_number=about.record_number, pure_ul__gt=0
    )
    gauge = gauges.filter(account__stage=stage).order_by("-happened_at", "-position").first() or gauges.last()
    return {
        "happened_at": timezone.localtime(about.happened_at).strftime("%Y-%m-%dT%H:%M"),
        "product": Stage(stage).label.lower() if stage else "",
        "pure": shown_amount(left_ul) if left_ul else "",
        "percent": f"{gauge.percent20_millionths / MICRO:.1f}" if gauge else "",
    }


@needs(WRITERS)
def enquiry_agree(request: HttpRequest, number: str) -> HttpResponse:
    """The second person sees what is proposed and what it posts, and agrees or sends it back."""
    standing = standing_or_404(number)
    about, proposed = standing.enquiry, proposal_of(standing)
    if proposed is None:
        messages.info(request, f"{about.number} is {standing.in_words}; no ending waits for a second person.")
        return to_enquiry(about)
    person = signed_on(request)
    is_first = proposed.person_id == person.pk
    form = SecondForm(request.POST if request.method == "POST" and is_first else None)
    plain = EnquiryForm(request.POST if request.method == "POST" and not is_first else None)
    shown = form if is_first else plain
    moved = None
    if request.method == "POST":
        try:
            second = form.second(request) if is_first else person
            answering.agree(about, second=second, seen=request.POST.get(signed.SEEN, ""))
        except (Unanswerable, Refused) as error:
            shown.mark(error)
        except signed.MovedOn as error:
            shown.add_error(None, error.sentence)
            moved = moved_table(request.POST, error)
            # What is shown, and would be signed, is what stands now.
            proposed = proposal_of(standing_or_404(number)) or proposed
        else:
            messages.success(request, f"Agreed {clock(timezone.now())}: {about.number} is answered.")
            return to_enquiry(about)
    return render(
        request,
        "ledger/enquiry_agree.html",
        {
            "area": "books",
            "places": books_places("findings"),
            "enquiry": about,
            "proposed": proposed,
            "facts": proposal_facts(proposed),
            "moved": moved,
            "seen": signed.carried(ending_as_seen(about, proposed)),
            "posts": _posts(about, proposed),
            "form": shown,
            "is_first": is_first,
            "back_form": ReasonForm(),
            "cancel": reverse("enquiry", kwargs={"number": about.number}),
        },
    )


def _posts(about: Enquiry, proposed: EnquiryEvent) -> Table:
    """Before and after, in the month's account."""
    left = open_of(about)
    rows = [
        ("Difference open here", left.open_ul, left.open_ul - proposed.pure_ul),
        (f"Explained as {proposed.cause}", 0, proposed.pure_ul),
    ]
    return Table(
        caption="What is posted once a second person agrees",
        columns=(
            Column("In the month's account"),
            Column("Before", numeric=True, unit="LPA"),
            Column("After", numeric=True, unit="LPA"),
        ),
        rows=[Row([Cell(name), Cell(difference(was, 4)), Cell(difference(becomes, 4))]) for name, was, becomes in rows]
        if proposed.pure_ul
        else [],
        empty=NOT_A_LOSS,
    )


@needs(WRITERS)
@require_POST
def enquiry_send_back(request: HttpRequest, number: str) -> HttpResponse:
    """The second person does not agree, and says why."""
    standing = standing_or_404(number)
    try:
        answering.send_back(standing.enquiry, person=signed_on(request), reason=request.POST.get("reason", ""))
    except Unanswerable as error:
        messages.error(request, error.sentence)
        return redirect("enquiry_agree", number=standing.enquiry.number)
    messages.success(request, f"{standing.enquiry.number} is open again.")
    return to_enquiry(standing.enquiry)


@needs(EXPLAINERS)
def enquiry_reopen(request: HttpRequest, number: str) -> HttpResponse:
    """Opens an answered enquiry again, its explanation taken back."""
    standing = standing_or_404(number)
    form = ReasonForm(request.POST if request.method == "POST" else None)
    if request.method == "POST":
        try:
            answering.reopen(standing.enquiry, person=signed_on(request), reason=form.text("reason"))
        except (Unanswerable, Refused) as error:
            form.mark(error)
        else:
            drafts.saved(request)
            messages.success(request, f"{standing.enquiry.number} is open again.")
            return to_enquiry(standing.enquiry)
    return act_page(
        request,
        form,
        heading=f"Open {standing.enquiry.number} again",
        submit="Open it again",
        cancel=reverse("enquiry", kwargs={"number": standing.enquiry.number}),
        explained="What was posted to explain it is taken back by its exact opposite. Both entries stay to be read.",
    )
