"""How an enquiry ends by two people: proposed, agreed to or sent back, opened again."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from distillery import signed
from distillery.drafts import showing as drafts
from distillery.figures import clock
from distillery.people.roles import EXPLAINERS, WRITERS, needs
from ledger.enquiries import answering
from ledger.enquiries.answering import in_place
from ledger.enquiries.balance import open_of
from ledger.enquiries.likeliest.one_event import may_be_one_event
from ledger.enquiries.opening import Unanswerable
from ledger.enquiries.standing import State, proposal_of
from ledger.posting.drafts import Refused
from ledger.views.enquiries.answer_parts import ENDS
from ledger.views.enquiries.forms import EnquiryForm, ProposalForm, ReasonForm, SecondForm
from ledger.views.enquiries.page import Forms, enquiry_page
from ledger.views.enquiries.page_parts import act_page, signed_on, standing_or_404, to_enquiry
from ledger.views.enquiries.signing import moved_table


@needs(WRITERS)
def enquiry_propose(request: HttpRequest, number: str) -> HttpResponse:
    """Proposes how it ends: cause, what was checked, reason, and for a known loss the liquid that was lost. A second
    person who is there agrees with the same press."""
    standing = standing_or_404(number)
    about = standing.enquiry
    if request.method != "POST":
        return enquiry_page(request, standing, act=ENDS)
    left_ul = open_of(about).open_ul
    others = [one.other for one in may_be_one_event(about, left_ul)] if standing.state == State.OPEN else []
    form = ProposalForm(about, left_ul, request.POST, others=others)
    try:
        second = form.second(request)
        proposal = form.proposal()
        seen = request.POST.get(signed.SEEN) if second is not None else None
        other = form.other_enquiry
        in_place.end(about, proposal, person=signed_on(request), second=second, other=other, seen=seen)
    except (Unanswerable, Refused) as error:
        form.mark(error)
        return enquiry_page(request, standing_or_404(number), Forms(ending=form), act=ENDS)
    except signed.MovedOn as error:
        form.add_error(None, error.sentence)
        sent = Forms(ending=form, moved=moved_table(request.POST, error))
        return enquiry_page(request, standing_or_404(number), sent, act=ENDS)
    drafts.saved(request)
    at = clock(timezone.now())
    if second is not None:
        messages.success(request, f"Agreed {at}: {about.number} is answered.")
    else:
        messages.success(request, f"Saved {at}. A second person has to agree before it counts.")
    return to_enquiry(about)


@needs(WRITERS)
def enquiry_agree(request: HttpRequest, number: str) -> HttpResponse:
    """The second person sees what is proposed and what it posts, and agrees or sends it back."""
    standing = standing_or_404(number)
    about, proposed = standing.enquiry, proposal_of(standing)
    if proposed is None:
        messages.info(request, f"{about.number} is {standing.in_words}; no ending waits for a second person.")
        return to_enquiry(about)
    if request.method != "POST":
        return enquiry_page(request, standing)
    person = signed_on(request)
    form = SecondForm(request.POST) if proposed.person_id == person.pk else EnquiryForm(request.POST)
    try:
        second = form.second(request) if isinstance(form, SecondForm) else person
        answering.agree(about, second=second, seen=request.POST.get(signed.SEEN, ""))
    except (Unanswerable, Refused) as error:
        form.mark(error)
        return enquiry_page(request, standing_or_404(number), Forms(agreeing=form))
    except signed.MovedOn as error:
        form.add_error(None, error.sentence)
        # What is shown, and would be signed, is what stands now.
        sent = Forms(agreeing=form, moved=moved_table(request.POST, error))
        return enquiry_page(request, standing_or_404(number), sent)
    messages.success(request, f"Agreed {clock(timezone.now())}: {about.number} is answered.")
    return to_enquiry(about)


@needs(WRITERS)
@require_POST
def enquiry_send_back(request: HttpRequest, number: str) -> HttpResponse:
    """The second person does not agree, and says why."""
    standing = standing_or_404(number)
    try:
        answering.send_back(standing.enquiry, person=signed_on(request), reason=request.POST.get("reason", ""))
    except Unanswerable as error:
        messages.error(request, error.sentence)
        return to_enquiry(standing.enquiry)
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
