"""One enquiry: what it is about, what stands behind it, what was done, and how it ends by two people.

The pages decide nothing: `ledger.enquiries` says what may be done and writes it down.
"""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from distillery import signed
from distillery.figures import clock, lpa
from distillery.pages import Cell, Column, Row, Table
from distillery.people.models import Person
from distillery.people.roles import EXPLAINERS, WRITERS, holds, may_write, needs
from distillery.plant.models import MICRO, Stage
from ledger.comparing.findings.finding import Finding
from ledger.comparing.month import findings
from ledger.enquiries import answering
from ledger.enquiries.balance import open_of, standing_explanations
from ledger.enquiries.explaining import shown_amount
from ledger.enquiries.models import Enquiry, EnquiryEvent, What
from ledger.enquiries.opening import Unanswerable, open_by_hand
from ledger.enquiries.printed import enquiry_pdf as printed_enquiry
from ledger.enquiries.seen import ending_as_seen, tie_as_seen
from ledger.enquiries.standing import UNANSWERED, Standing, State, of_period, proposal_of, standing_of
from ledger.enquiries.whole import open_whole
from ledger.models import Gauge, Movement
from ledger.periods import period_of
from ledger.posting.drafts import Refused
from ledger.views.enquiries.forms import AddForm, EnquiryForm, OpenForm, ProposalForm, ReasonForm, SecondForm, TieForm
from ledger.views.enquiries.parts import page_of, proposal_facts
from ledger.views.enquiries.signing import moved_table
from ledger.views.ways import books_places, record_href

NOT_A_LOSS = "Nothing is posted. The difference stays in the month's account as a difference."


def _signed_on(request: HttpRequest) -> Person:
    if not isinstance(request.user, Person):
        raise TypeError("A page of the books was opened without signing on.")
    return request.user


def _standing(number: str) -> Standing:
    enquiry = Enquiry.objects.select_related("opened_by").filter(number__iexact=number).first()
    if enquiry is None:
        raise Http404(f"There is no enquiry {number}.")
    return standing_of(enquiry)


def _to(enquiry: Enquiry) -> HttpResponse:
    return redirect("enquiry", number=enquiry.number)


def enquiry(request: HttpRequest, number: str) -> HttpResponse:
    """All there is to know about one enquiry, and what can be done next."""
    standing = _standing(number)
    return _page(request, standing, AddForm(initial={"what": What.CHECKED.value}))


def _page(request: HttpRequest, standing: Standing, form: AddForm) -> HttpResponse:
    person = _signed_on(request)
    writes, proposed = may_write(person), proposal_of(standing)
    answered = standing.state == State.ANSWERED or standing_explanations(standing.enquiry).exists()
    return render(
        request,
        "ledger/enquiry.html",
        {
            "area": "books",
            "places": books_places("findings"),
            **page_of(standing),
            "form": form,
            "may_write": writes,
            "may_propose": writes and standing.state == State.OPEN,
            "may_agree": proposed is not None and writes,
            "is_first": proposed is not None and proposed.person_id == person.pk,
            "may_reopen": answered and holds(person, EXPLAINERS),
            "may_correct": writes,
        },
    )


@needs(WRITERS)
def enquiry_add(request: HttpRequest, number: str) -> HttpResponse:
    """Adds what was done."""
    standing = _standing(number)
    if request.method != "POST":
        return _to(standing.enquiry)
    form = AddForm(request.POST)
    try:
        answering.note(
            standing.enquiry, What(form.text("what") or What.NOTE), form.text("words"), person=_signed_on(request)
        )
    except Unanswerable as error:
        form.mark(error)
        return _page(request, standing, form)
    messages.success(request, f"Saved {clock(timezone.now())}.")
    return _to(standing.enquiry)


@needs(WRITERS)
def enquiry_open(request: HttpRequest, kind: str, record: str) -> HttpResponse:
    """A person opens an enquiry on a record, or on all the runs of a watch that is named in the address."""
    form = OpenForm(request.POST if request.method == "POST" else None)
    whole = _watch_about(record, request.GET["whole"]) if request.GET.get("whole") else None
    if request.method == "POST":
        person, why = _signed_on(request), form.text("words")
        try:
            if whole is not None:
                opened = open_whole(whole, person=person, why=why)
            else:
                opened = open_by_hand(kind, record, person=person, why=why)
        except Unanswerable as error:
            form.mark(error)
        else:
            messages.success(request, f"{opened.number} is open; the month cannot be closed before it is answered.")
            return _to(opened)
    if whole is not None:
        return _act(
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
    return _act(
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
    found = next((one for one in findings(period_of(newest.took_place_at)) if one.key == key), None)
    if found is None or not found.runs:
        raise Http404("Nothing leans one way there any more; look at the findings again.")
    return found


@needs(WRITERS)
def enquiry_propose(request: HttpRequest, number: str) -> HttpResponse:
    """Proposes how it ends: cause, what was checked, reason, and for a known loss the liquid that was lost."""
    standing = _standing(number)
    about = standing.enquiry
    left_ul = open_of(about).open_ul
    form = ProposalForm(
        about, left_ul, request.POST if request.method == "POST" else None, initial=_suggested(about, left_ul)
    )
    if request.method == "POST":
        try:
            answering.propose(about, form.proposal(), person=_signed_on(request))
        except Unanswerable as error:
            form.mark(error)
        else:
            messages.success(request, f"Saved {clock(timezone.now())}. A second person has to agree before it counts.")
            return redirect("enquiry_agree", number=about.number)
    loss = [form[name] for name in form.LOSS_BOXES]
    return render(
        request,
        "ledger/enquiry_proposal.html",
        {
            "area": "books",
            "places": books_places("findings"),
            "enquiry": about,
            "left": lpa(left_ul, 4),
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
    standing = _standing(number)
    about, proposed = standing.enquiry, proposal_of(standing)
    if proposed is None:
        messages.info(request, f"{about.number} is {standing.in_words}; no ending waits for a second person.")
        return _to(about)
    person = _signed_on(request)
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
            proposed = proposal_of(_standing(number)) or proposed
        else:
            messages.success(request, f"Agreed {clock(timezone.now())}: {about.number} is answered.")
            return _to(about)
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
        rows=[Row([Cell(name), Cell(lpa(was, 4)), Cell(lpa(becomes, 4))]) for name, was, becomes in rows]
        if proposed.pure_ul
        else [],
        empty=NOT_A_LOSS,
    )


@needs(WRITERS)
@require_POST
def enquiry_send_back(request: HttpRequest, number: str) -> HttpResponse:
    """The second person does not agree, and says why."""
    standing = _standing(number)
    try:
        answering.send_back(standing.enquiry, person=_signed_on(request), reason=request.POST.get("reason", ""))
    except Unanswerable as error:
        messages.error(request, error.sentence)
        return redirect("enquiry_agree", number=standing.enquiry.number)
    messages.success(request, f"{standing.enquiry.number} is open again.")
    return _to(standing.enquiry)


@needs(EXPLAINERS)
def enquiry_reopen(request: HttpRequest, number: str) -> HttpResponse:
    """Opens an answered enquiry again, its explanation taken back."""
    standing = _standing(number)
    form = ReasonForm(request.POST if request.method == "POST" else None)
    if request.method == "POST":
        try:
            answering.reopen(standing.enquiry, person=_signed_on(request), reason=form.text("reason"))
        except (Unanswerable, Refused) as error:
            form.mark(error)
        else:
            messages.success(request, f"{standing.enquiry.number} is open again.")
            return _to(standing.enquiry)
    return _act(
        request,
        form,
        heading=f"Open {standing.enquiry.number} again",
        submit="Open it again",
        cancel=reverse("enquiry", kwargs={"number": standing.enquiry.number}),
        explained="What was posted to explain it is taken back by its exact opposite. Both entries stay to be read.",
    )


@needs(WRITERS)
def enquiry_tie(request: HttpRequest, number: str) -> HttpResponse:
    """Ties a loss with a gain that is shown to be related."""
    standing = _standing(number)
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
                person=_signed_on(request),
                reason=form.text("reason"),
                seen=request.POST.get(signed.SEEN, ""),
            )
        except Unanswerable as error:
            form.mark(error)
        except signed.MovedOn as error:
            form.add_error(None, error.sentence)
            moved = moved_table(request.POST, error)
        else:
            messages.success(request, f"{about.number} and {chosen.number} are tied.")
            return _to(about)
    return _act(
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


def _act(request: HttpRequest, form: EnquiryForm, **more: object) -> HttpResponse:
    return render(
        request,
        "ledger/enquiry_act.html",
        {"area": "books", "places": books_places("findings"), "form": form, **more},
    )


def enquiry_pdf(request: HttpRequest, number: str) -> HttpResponse:
    """The printed enquiry."""
    standing = _standing(number)
    pdf = printed_enquiry(standing, printed_at=timezone.now(), printed_by=_signed_on(request).shown_name)
    answer = HttpResponse(pdf, "application/pdf")
    answer["Content-Disposition"] = f'inline; filename="{standing.enquiry.number}.pdf"'
    return answer
