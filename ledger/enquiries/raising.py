"""Findings and enquiries kept together: what is found opens an enquiry, what a correction takes away ends it.

`following.py` says when. One fault, one enquiry: the finding's key says which.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass

from distillery.figures import difference_said, lpa
from distillery.people.models import Person
from ledger.comparing.findings.finding import CONTINUITY, COUNT, ENQUIRY, LIKENESS, WATCH, Finding
from ledger.enquiries.balance import open_of
from ledger.enquiries.compared import note_success
from ledger.enquiries.covering import GAUGING_OF, is_whole
from ledger.enquiries.models import Ending, Enquiry, What
from ledger.enquiries.opening import BY_HAND, About, add, hold, open_about, open_period
from ledger.enquiries.standing import UNANSWERED, Standing, State, by_key, history, standings
from ledger.enquiries.whole import keep_up
from ledger.kept.keeping import OPERATION_KEY, findings
from ledger.models import Gauge, Movement
from ledger.periods.calendar import bounds
from ledger.posting.accounts import VESSEL_ACCOUNT
from ledger.statements.unaccounted_legs import gauge_key

# What a person has to answer for. Gauge again and watches ask for a look, not yet for an answer.
RAISED = frozenset({ENQUIRY, CONTINUITY, COUNT, LIKENESS})


@dataclass(frozen=True, slots=True)
class Undecided:
    """Unanswered enquiries, by key, that a loss explained as well as a wrong reading before somebody put one right."""

    by: Person
    keys: frozenset[str]


def bring_up_to_date(
    period: str,
    *,
    compared: Collection[Finding] | None = None,
    corrected: str = "",
    undecided: Undecided | None = None,
) -> None:
    """Brings the enquiries about what happened in one month in line with its findings. Inside a turn.

    `compared` is what was found, where that is known already; else the findings as of now.

    `corrected` names the record that was put right, where one was; what is found no more was put right by it, and waits
    for a second person where it is `undecided` whether alcohol was lost or a reading wrong. Of a closed month, what is
    found later is opened in the first month that can still be answered for.
    """
    compared = findings(period) if compared is None else compared
    lasting = {one.key: one for one in compared if one.kind == WATCH}
    found = {one.key: one for one in compared if one.kind in RAISED}
    known = by_key(found)
    for key, one in found.items():
        if key not in known:
            open_about(about(one, open_period(period)))
        elif known[key].state in (State.PUT_RIGHT, State.GONE) or _waits_on_correction(known[key]):
            add(hold(known[key].enquiry), What.FOUND_AGAIN, person=None, text=one.sentence, record=corrected)
    starts, ends = bounds(period)
    about_it = Enquiry.objects.filter(happened_at__gte=starts, happened_at__lt=ends).exclude(kind=BY_HAND)
    there = standings(about_it.order_by("pk"))
    for standing in there:
        if is_whole(standing.enquiry):
            keep_up(standing, lasting.get(standing.enquiry.key), corrected)
        elif standing.enquiry.key not in found:
            _gone(standing, found.values(), corrected, undecided)
        elif standing.state == State.ANSWERED:
            _still_answers(standing, corrected)
    note_success(period)


def about(finding: Finding, period: str) -> About:
    """What an enquiry is opened about, from a finding of a month's account."""
    record_kind, record_number = place_of(finding)
    return About(
        key=finding.key,
        kind=finding.kind,
        record_kind=record_kind,
        record_number=record_number,
        operation=finding.operation,
        happened_at=finding.at,
        period=period,
        said=finding.sentence,
        difference_ul=finding.difference_ul,
        uncertainty_ul=finding.uncertainty_ul,
        threshold_ul=finding.threshold_ul,
        in_ul=finding.in_ul,
        basis=finding.basis,
    )


def _gone(standing: Standing, found: Iterable[Finding], corrected: str, undecided: Undecided | None) -> None:
    """What is found no more: an open enquiry ends by itself, an answered one must not leave its answer behind."""
    if standing.state == State.ANSWERED:
        _still_answers(standing, corrected)
    elif standing.state in UNANSWERED:
        what, other = What.PUT_RIGHT if corrected else What.GONE, None
        text = f"Put right by the correction of {corrected}." if corrected else "The figures no longer show it."
        above = next((one for one in found if standing.enquiry.record_number in one.under), None)
        if above is None and _still_beyond(standing.enquiry):
            return
        held = _held_for_second(standing.enquiry)
        if corrected and undecided is not None and (held or standing.enquiry.key in undecided.keys):
            _ask_for_second(standing.enquiry, corrected, undecided.by)
            return
        if held:
            # One person's correction took it away and nobody else has agreed: people end it, not the program.
            return
        if above is not None:
            what, other = What.GONE, Enquiry.objects.filter(key=above.key).first()
            text = f"One cause explains this and what shows in {above.record}; it is enquired into there."
        add(hold(standing.enquiry), what, person=None, text=text, record=corrected, other=other)


def _ask_for_second(enquiry: Enquiry, corrected: str, by: Person) -> None:
    text = (
        f"{corrected} was corrected, and the figures no longer show it. A loss would have explained them as well as "
        "the reading that was changed, so a second person has to agree before this ends."
    )
    add(hold(enquiry), What.PROPOSED, person=by, text=text, ending=Ending.CORRECTED, record=corrected)


def _waits_on_correction(standing: Standing) -> bool:
    decided = standing.decided
    return standing.state == State.WAITING and decided is not None and decided.ending == Ending.CORRECTED


def _held_for_second(enquiry: Enquiry) -> bool:
    """True from a correction that only one person made until two have answered, or the figures show it again."""
    held = False
    for event in history(enquiry):
        if event.what == What.PROPOSED and event.ending == Ending.CORRECTED:
            held = True
        elif event.what in (What.FOUND_AGAIN, What.AGREED):
            held = False
    return held


def _still_beyond(enquiry: Enquiry) -> bool:
    """True where the books still differ by more than the threshold it was opened by, however the figures are read."""
    return abs(open_of(enquiry).open_ul) > enquiry.threshold_ul > 0


def _still_answers(standing: Standing, corrected: str) -> None:
    """Opens an answered one again where what two people agreed to is no longer what the books say."""
    decided = standing.decided
    if decided is None or decided.what != What.AGREED:
        return
    left = open_of(standing.enquiry)
    text = ""
    if decided.ending == Ending.LOSS and decided.movement is not None and left.open_ul * decided.pure_ul < 0:
        text = (
            f"The difference is now {difference_said(left.left_ul)}, and {difference_said(left.explained_ul)} is "
            f"explained as {decided.cause}. Take the explanation back and answer anew."
        )
    elif decided.left_ul is not None and lpa(decided.left_ul) != lpa(left.left_ul):
        text = (
            f"Changed since it was countersigned: the difference was {difference_said(decided.left_ul)} when two "
            f"people agreed and is {difference_said(left.left_ul)} now. Answer anew."
        )
    if text:
        add(hold(standing.enquiry), What.REOPENED, person=None, text=text, record=corrected)


def place_of(finding: Finding) -> tuple[str, str]:
    """Kind and number of the record whose entries hold the difference; its cause may stand on another record."""
    if finding.key.startswith(OPERATION_KEY):
        number = finding.key.removeprefix(OPERATION_KEY)
        found = Movement.objects.filter(record_number=number, operation=finding.operation).order_by("-pk").first()
        return (found.record_kind, number) if found is not None else (finding.record_kind, finding.record)
    if finding.operation.startswith(GAUGING_OF):
        vessel = finding.operation.removeprefix(GAUGING_OF)
        there = Gauge.objects.standing().filter(account__code=f"{VESSEL_ACCOUNT}{vessel}", happened_at=finding.at)
        for gauge in there.select_related("movement", "account").order_by("-position"):
            if gauge_key(gauge) == finding.key.partition(":")[2]:
                return gauge.movement.record_kind, gauge.movement.record_number
    return finding.record_kind, finding.record
