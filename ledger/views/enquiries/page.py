"""The page of one enquiry: the answer first, then what else fits, then the evidence, then all that can be done.

It decides nothing: `ledger.enquiries` says what may be done and writes it down.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone

from distillery import signed
from distillery.drafts import showing as drafts
from distillery.figures import difference, difference_said
from distillery.pages import Cell, Column, Row, Table
from distillery.people.models import Person
from distillery.people.roles import EXPLAINERS, holds, may_write
from distillery.plant.models import MICRO, Stage
from ledger.enquiries.balance import Open, open_of, standing_explanations
from ledger.enquiries.covering import covered
from ledger.enquiries.explaining import shown_amount
from ledger.enquiries.figures_now import earlier_of, is_about_a_figure
from ledger.enquiries.finding_of import Looked, look_at
from ledger.enquiries.likeliest.answer import answer_of
from ledger.enquiries.likeliest.one_event import OneEvent, may_be_one_event
from ledger.enquiries.models import Ending, Enquiry, EnquiryEvent, What
from ledger.enquiries.seen import ending_as_seen, open_as_seen
from ledger.enquiries.standing import UNANSWERED, Standing, State, history, proposal_of
from ledger.models import Gauge
from ledger.periods.calendar import Calendar, is_closed, name_of
from ledger.statements.counted_stock import label_percent_of
from ledger.views.enquiries import answer_parts, parts
from ledger.views.enquiries.evidence import LAST, before
from ledger.views.enquiries.finding_parts import better_table, records_of, told_apart_by
from ledger.views.enquiries.forms import AddForm, EnquiryForm, ProposalForm, ReasonForm, SecondForm
from ledger.views.enquiries.gauges import gauges_of, grid, readings_table, still_stands
from ledger.views.enquiries.leaning import leaning
from ledger.views.enquiries.page_parts import signed_on
from ledger.views.ways import books_places, record_href

NOT_A_LOSS = "Nothing is posted. The difference stays in the month's account as a difference."


@dataclass(slots=True)
class Forms:
    """What was sent to the page and could not be saved, each in its own part; `moved` is what changed meanwhile."""

    adding: AddForm | None = None
    ending: ProposalForm | None = None
    agreeing: EnquiryForm | None = None
    moved: Table | None = None
    act: str = ""

    @property
    def sent(self) -> EnquiryForm | None:
        """The one that came back."""
        return self.adding or self.ending or self.agreeing


def enquiry_page(request: HttpRequest, standing: Standing, sent: Forms | None = None, *, act: str = "") -> HttpResponse:
    """All there is to know about one enquiry, and what can be done next. `act` is the part that stands open."""
    sent = sent or Forms()
    person, enquiry = signed_on(request), standing.enquiry
    writes, left = may_write(person), open_of(enquiry)
    pairs = may_be_one_event(enquiry, left.open_ul) if standing.state == State.OPEN else []
    done = history(enquiry)
    may_end = writes and standing.state == State.OPEN
    shown = {
        **_shown(standing, left, pairs, done, may_end=may_end, may_correct=writes),
        "area": "books",
        "places": books_places("findings"),
        "form": sent.sent,
        "moved": sent.moved,
        "do": act or request.GET.get("do", ""),
        "may_write": writes,
        "may_end": may_end,
        "may_reopen": _may_reopen(standing, person),
    }
    if writes:
        shown["adding"] = sent.adding or AddForm(initial={"what": What.CHECKED.value})
        at = reverse("enquiry_add", args=[enquiry.number])
        shown["adding_draft"] = drafts.of_page(request, shown["adding"], f"{enquiry.number}, what was done", at)
    if may_end:
        shown |= _ending(request, enquiry, left, pairs, done, sent.ending)
    elif writes and (proposed := proposal_of(standing)) is not None:
        shown |= _agreeing(enquiry, proposed, person, sent.agreeing)
    return render(request, "ledger/enquiry.html", shown)


def _shown(
    standing: Standing,
    left: Open,
    pairs: list[OneEvent],
    done: list[EnquiryEvent],
    *,
    may_end: bool,
    may_correct: bool,
) -> dict[str, Any]:
    """What the page shows of an enquiry, whoever looks at it."""
    enquiry = standing.enquiry
    looked = look_at(enquiry)
    finding = looked.finding
    runs = covered(enquiry)
    # What lasts is looked at in all its runs, the newest too.
    records = [(run.record_kind, run.record_number) for run in runs]
    records = records or [(enquiry.record_kind, enquiry.record_number)]
    until = max([enquiry.happened_at, *(run.happened_at for run in runs)])
    earlier = earlier_of(enquiry.operation, until, LAST)
    if finding is not None:
        records = list(dict.fromkeys([*records, *records_of(finding)]))
    gauges = gauges_of(records)
    return {
        "enquiry": enquiry,
        "record_href": record_href(enquiry.record_kind, enquiry.record_number),
        "standing": standing,
        "state": parts.state_mark(standing),
        "in_the_way": name_of(enquiry.period) if standing.state in UNANSWERED else "",
        "next_step": answer_parts.next_step(standing),
        "facts": parts.facts_of_the_whole(enquiry, left) if runs else parts.facts(enquiry, left, earlier, finding),
        "answer": parts.proposal_facts(standing.decided) if parts.is_answer(standing) and standing.decided else [],
        "waits": proposal_of(standing) is not None,
        "not_found": parts.NOT_FOUND_WORDS if standing.not_found else "",
        "declared": _declared(enquiry),
        "finding": finding,
        **_answer(standing, looked, left, gauges, may_end=may_end, may_correct=may_correct),
        "one_event": answer_parts.events_table(enquiry, pairs),
        "told_apart_by": told_apart_by(finding) if finding is not None else [],
        "under": ", ".join(finding.under) if finding is not None else "",
        "not_compared": looked.not_compared,
        "being_compared": looked.being_compared,
        "not_seen": looked.not_seen,
        "better": better_table(looked.not_seen) if looked.not_seen else None,
        "readings": readings_table(gauges),
        "before": before(enquiry.operation, until, earlier=earlier, narrow=True),
        "leaning": leaning(looked.month, finding) if finding is not None and looked.month is not None else [],
        "runs": parts.runs_table(enquiry, left) if runs else None,
        "events": parts.events_table(enquiry, done),
    }


def _answer(
    standing: Standing, looked: Looked, left: Open, gauges: list[Gauge], *, may_end: bool, may_correct: bool
) -> dict[str, Any]:
    """The answer first, what else fits, and the grid of the vessel it is about; nothing of it once it is answered."""
    finding = looked.finding
    if finding is None or standing.state == State.ANSWERED:
        return {}
    enquiry = standing.enquiry
    open_ul = 0 if is_about_a_figure(enquiry) else left.open_ul
    answer = answer_of(finding, open_ul)
    if answer.reading is not None and not still_stands(gauges, answer.reading):
        # Put right, and not compared since: nobody is to put it right twice.
        return {"put_right": f"{answer.reading.record} was corrected; what that settles shows in a moment."}
    return {
        "first": answer_parts.shown(enquiry, finding, answer, open_ul, may_end=may_end, may_correct=may_correct),
        "else": answer_parts.else_table(enquiry, finding, answer, may_correct=may_correct),
        "grid": grid(gauges, answer.reading) if answer.reading is not None else None,
    }


def _declared(enquiry: Enquiry) -> str:
    """What becomes of what was declared, where it happened in a period that is closed."""
    calendar = Calendar.read()
    of = calendar.period_of(enquiry.happened_at)
    if of == enquiry.period or not is_closed(of):
        # What is found of a closed period stands under the first that can be answered for.
        return ""
    name = calendar.name_of(of)
    return (
        f"It happened in {name}, which is closed. What is put right now is carried in the first open period, "
        "and what it changes of the duty declared is an under-declaration or over-declaration that refers to "
        f"{name}."
    )


def _may_reopen(standing: Standing, person: Person) -> bool:
    answered = standing.state == State.ANSWERED or standing_explanations(standing.enquiry).exists()
    return answered and holds(person, EXPLAINERS)


def _ending(
    request: HttpRequest,
    enquiry: Enquiry,
    left: Open,
    pairs: list[OneEvent],
    done: list[EnquiryEvent],
    sent: ProposalForm | None,
) -> dict[str, Any]:
    others = [one.other for one in pairs]
    form = sent
    if form is None:
        initial = _suggested(enquiry, left)
        chosen = request.GET.get("with", "")
        if any(one.number == chosen for one in others):
            initial |= {"ending": Ending.SET_OFF.value, "other": chosen}
        form = ProposalForm(enquiry, left.open_ul, initial=initial, others=others)
    at = reverse("enquiry_propose", args=[enquiry.number])
    return {
        "ending": form,
        "ending_draft": drafts.of_page(request, form, f"{enquiry.number}, how it ends", at),
        "left": difference_said(left.open_ul, 4),
        "is_gain": left.open_ul < 0,
        "seen": signed.carried(open_as_seen(enquiry, left.open_ul, done)),
    }


def _suggested(about: Enquiry, left: Open) -> dict[str, str]:
    """What is known already: the open difference, when it arose, and the liquid of the record's last gauge, or the
    strength on the label of what was counted."""
    stage = left.parts[0].stage if left.parts else ""
    gauges = Gauge.objects.standing().filter(
        movement__record_kind=about.record_kind, movement__record_number=about.record_number, pure_ul__gt=0
    )
    gauge = gauges.filter(account__stage=stage).order_by("-happened_at", "-position").first() or gauges.last()
    label = label_percent_of(about.key)
    percent = gauge.percent20_millionths / MICRO if gauge else label
    return {
        "happened_at": timezone.localtime(about.happened_at).strftime("%Y-%m-%dT%H:%M"),
        "product": Stage(stage).label.lower() if stage else "",
        "pure": shown_amount(left.open_ul) if left.open_ul else "",
        "percent": f"{percent:.1f}" if percent is not None else "",
    }


def _agreeing(enquiry: Enquiry, proposed: EnquiryEvent, person: Person, sent: EnquiryForm | None) -> dict[str, Any]:
    is_first = proposed.person_id == person.pk
    return {
        "proposed": proposed,
        "is_first": is_first,
        "agreeing": sent or (SecondForm() if is_first else EnquiryForm()),
        "posts": _posts(enquiry, proposed),
        "sending_back": ReasonForm(auto_id="back_%s"),
        "seen": signed.carried(ending_as_seen(enquiry, proposed)),
    }


def _posts(about: Enquiry, proposed: EnquiryEvent) -> Table:
    """Before and after, in the month's account; of a set-off both sides apart, of which nothing is posted."""
    left = open_of(about)
    rows = [
        ("Difference open here", left.open_ul, left.open_ul - proposed.pure_ul),
        (f"Explained as {proposed.cause}", 0, proposed.pure_ul),
    ]
    if not proposed.pure_ul:
        rows = []
    if proposed.other is not None:
        there_ul = open_of(proposed.other).open_ul
        rows = [
            (f"{about.number}, {about.record_number}", left.open_ul, left.open_ul),
            (f"{proposed.other.number}, {proposed.other.record_number}", there_ul, there_ul),
            ("Left between the two", left.open_ul + there_ul, left.open_ul + there_ul),
        ]
    return Table(
        caption="What it does to the month's account",
        note="once a second person agrees",
        columns=(
            Column("In the month's account"),
            Column("Before", numeric=True, unit="LPA"),
            Column("After", numeric=True, unit="LPA"),
        ),
        rows=[Row([Cell(name), Cell(difference(was, 4)), Cell(difference(becomes, 4))]) for name, was, becomes in rows],
        empty=NOT_A_LOSS,
    )
