"""A second person agrees to an ending or sends it back; what two agreed to is taken back."""

from __future__ import annotations

from distillery import signed
from distillery.database.retrying import retried
from distillery.figures import lpa
from distillery.people.models import Person
from distillery.people.roles import EXPLAINERS, holds, may_write
from ledger.enquiries.answering.refusing import MOVED_ON, need_reason, refuse_beyond_open, refuse_reader
from ledger.enquiries.balance import open_of, standing_explanations
from ledger.enquiries.explaining import explanations
from ledger.enquiries.following import followed, note_uncompared
from ledger.enquiries.models import Ending, Enquiry, EnquiryEvent, What
from ledger.enquiries.opening import Unanswerable, add, hold
from ledger.enquiries.seen import ending_as_seen
from ledger.enquiries.standing import State, standing_of
from ledger.models import Movement, MovementKind
from ledger.periods import period_of
from ledger.periods.calendar import closing_of
from ledger.posting.post import correct, post
from ledger.posting.turns import turn


@followed
@retried
def agree(enquiry: Enquiry, *, second: Person, seen: str | None = None) -> EnquiryEvent:
    """A second person agrees to the ending that waits, and what it posts is posted.

    `seen` is the digest of what was on the page. Raises Unanswerable, signed.MovedOn or Refused.
    """
    with turn():
        enquiry = hold(enquiry)
        proposed = _waiting(enquiry)
        assert proposed.person is not None
        _second_person(second, proposed.person)
        signed.refuse_moved(seen, ending_as_seen(enquiry, proposed), MOVED_ON)
        movement = None
        if proposed.ending == Ending.LOSS:
            refuse_beyond_open(enquiry, proposed.pure_ul)
            for draft in explanations(enquiry, proposed):
                movement = post(draft, person=proposed.person, second=second, kind=MovementKind.EXPLANATION)
        if proposed.other is not None:
            _agree_to_tied(enquiry, proposed, second)
        agreed = _agreed(enquiry, proposed, second, movement=movement)
        if proposed.ending == Ending.CORRECTED:
            text = f"Put right by the correction of {proposed.record}, to which a second person has agreed."
            add(enquiry, What.PUT_RIGHT, person=None, text=text, record=proposed.record)
        if movement is not None:
            _rest_stays_open(enquiry)
            # What is left is ranked anew: a gauge that found again what is now said to be lost has to be answered too.
            note_uncompared({period_of(enquiry.happened_at): [enquiry.record_number]})
    return agreed


@retried
def send_back(enquiry: Enquiry, *, person: Person, reason: str) -> EnquiryEvent:
    """The second person does not agree, with a reason; the enquiry is open again. Raises Unanswerable."""
    refuse_reader(person)
    need_reason(reason, "Reason is blank; say what is still to be looked at.")
    with turn():
        enquiry = hold(enquiry)
        _waiting(enquiry)
        return add(enquiry, What.SENT_BACK, person=person, text=reason.strip())


@followed
@retried
def reopen(enquiry: Enquiry, *, person: Person, reason: str, second: Person | None = None) -> EnquiryEvent:
    """Opens an answered enquiry again; an explanation that was posted is taken back by its exact opposite.

    What two people agreed to, one holding the right to explain takes back. Raises Unanswerable or Refused.
    """
    refuse_reader(person)
    need_reason(reason, "Reason is blank; say why it is opened again.")
    if not holds(person, EXPLAINERS):
        raise Unanswerable(f"{person.shown_name} may not take back what two people agreed to; ask the manager.")
    with turn():
        enquiry = hold(enquiry)
        standing = standing_of(enquiry)
        closing = closing_of(enquiry.period)
        if closing is not None and standing.decided is not None and standing.decided.at <= closing.agreed_at:
            sentence = f"The month {enquiry.period} is closed with this answer; open a new enquiry on the record."
            raise Unanswerable(sentence)
        posted = list(standing_explanations(enquiry))
        if posted:
            correct(posted, [], person=person, second=second, reason=f"{enquiry.number}: {reason.strip()}")
            taken_back = add(enquiry, What.TAKEN_BACK, person=person, text=reason.strip(), movement=posted[-1])
            note_uncompared({period_of(enquiry.happened_at): [enquiry.record_number]})
            return taken_back
        if standing.state != State.ANSWERED:
            raise Unanswerable(f"{enquiry.number} is {standing.state}; only an answered enquiry is opened again.")
        return add(enquiry, What.REOPENED, person=person, text=reason.strip())


def may_agree(proposed: EnquiryEvent, person: Person) -> bool:
    """True where this person may be the second one for a proposal."""
    if proposed.person is None or proposed.person_id == person.pk or not may_write(person):
        return False
    return holds(person, EXPLAINERS) or holds(proposed.person, EXPLAINERS)


def _agreed(enquiry: Enquiry, proposed: EnquiryEvent, second: Person, *, movement: Movement | None) -> EnquiryEvent:
    return add(
        enquiry,
        What.AGREED,
        person=second,
        text=proposed.text,
        checked=proposed.checked,
        ending=proposed.ending,
        cause=proposed.cause,
        happened_at=proposed.happened_at,
        product=proposed.product,
        pure_ul=proposed.pure_ul,
        percent_millionths=proposed.percent_millionths,
        movement=movement,
        other=proposed.other,
        record=proposed.record,
        left_ul=open_of(enquiry).left_ul,
    )


def _rest_stays_open(enquiry: Enquiry) -> None:
    """Opens the enquiry again where more than the threshold is left beside what was explained."""
    left_ul = open_of(enquiry).open_ul
    if abs(left_ul) > enquiry.threshold_ul > 0:
        text = f"{lpa(abs(left_ul))} LPA are left, beyond the review threshold of {lpa(enquiry.threshold_ul)}."
        add(enquiry, What.REOPENED, person=None, text=text)


def _agree_to_tied(enquiry: Enquiry, proposed: EnquiryEvent, second: Person) -> None:
    """The other side of a set-off ends with this one: it would make no sense to answer half of it."""
    assert proposed.other is not None
    other = hold(proposed.other)
    if standing_of(other).state in (State.OPEN, State.WAITING):
        add(
            other,
            What.AGREED,
            person=second,
            text=proposed.text,
            checked=proposed.checked,
            ending=Ending.SET_OFF,
            other=enquiry,
            left_ul=open_of(other).left_ul,
        )


def _waiting(enquiry: Enquiry) -> EnquiryEvent:
    standing = standing_of(enquiry)
    if standing.state != State.WAITING or standing.decided is None:
        raise Unanswerable(f"{enquiry.number} is {standing.state}; no ending waits for a second person.")
    return standing.decided


def _second_person(second: Person, first: Person) -> None:
    if second.pk == first.pk:
        raise Unanswerable(f"{second.shown_name} proposed this; someone else has to agree to it.", field="second")
    if not may_write(second):
        sentence = f"{second.shown_name} may read but not write, so cannot agree; ask someone on shift."
        raise Unanswerable(sentence, field="second")
    if not (holds(first, EXPLAINERS) or holds(second, EXPLAINERS)):
        raise Unanswerable("One of the two has to be a manager; ask the manager to agree.", field="second")
