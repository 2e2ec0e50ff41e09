"""What people do about an enquiry: look, note, tie, propose an ending, agree to it, send it back, take it back.

An ending has a cause, what was checked and a reason, and is agreed to by someone else; one of the two holds the right
to explain. Only then is anything posted, and only for a known loss: so much from the difference to the cause (or back,
for a gain that turns out to have been booked as lost). A cause that is not found posts nothing: the difference stays
in the account, and the law and the officer decide whether duty is due on it.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from distillery import signed
from distillery.figures import difference, lpa
from distillery.people.models import Person
from distillery.people.roles import EXPLAINERS, holds, may_write
from distillery.plant.models import MICRO
from distillery.retrying import retried
from ledger.enquiries.balance import open_of, standing_explanations
from ledger.enquiries.explaining import explanations, known_causes
from ledger.enquiries.models import Ending, Enquiry, EnquiryEvent, What
from ledger.enquiries.opening import Unanswerable, add, hold
from ledger.enquiries.raising import bring_up_to_date
from ledger.enquiries.reading import Standing, State, standing_of
from ledger.enquiries.seen import ending_as_seen, tie_as_seen
from ledger.models import Movement, MovementKind
from ledger.periods import period_of
from ledger.periods.reading import closing_of
from ledger.posting.post import correct, post
from ledger.posting.turns import turn

MOVED_ON = "Something has changed since this page was made, so nothing was signed; look at it as it stands now."
SMALL_WORDS = {
    What.NOTE: "The note is blank; write what is to be kept.",
    What.CHECKED: "What was checked is blank; say which reading, vessel or paper was looked at, and what it showed.",
    What.ASKED: "The reading asked for is blank; say which vessel is to be gauged, and with what.",
    What.CAUSE: "The cause is blank; say in a few words what is thought to be behind it.",
}

# A page of writing. What is longer was put there by mistake, and would have to be printed.
LONGEST_TEXT = 4000
LONGEST_PRODUCT = 80
# The weakest strength that is stated at all, and so the weakest a loss can be worked out from (% vol at 20 °C).
LEAST_PERCENT = 0.01
# A thousand million litres: no figure beyond it is worth writing out.
MOST_UL = 10**15


@dataclass(frozen=True, slots=True)
class Proposal:
    """An ending as somebody proposes it.

    For a known loss: the cause from the site's list, when it was lost, of which product, how much pure alcohol
    (microlitres, with the sign of the difference) and at what strength (% vol at 20 °C).
    """

    ending: Ending
    checked: str
    reason: str
    cause: str = ""
    happened_at: datetime | None = None
    product: str = ""
    pure_ul: int = 0
    percent: float | None = None


@retried
def note(enquiry: Enquiry, what: What, text: str, *, person: Person) -> EnquiryEvent:
    """Writes a note, what was checked, a reading asked for, or what is thought to be the cause. Raises Unanswerable."""
    _may_write(person)
    if not text.strip():
        raise Unanswerable(SMALL_WORDS[what], field="words")
    _is_kept_whole("words", "In your words", text)
    with turn():
        return add(hold(enquiry), what, person=person, text=text.strip())


@retried
def tie(enquiry: Enquiry, other: Enquiry, *, person: Person, reason: str, seen: str | None = None) -> None:
    """Ties a loss with a gain that is shown to be related, in both enquiries, with its reason.

    `seen` is the digest of what was on the page. Raises Unanswerable, signed.MovedOn.
    """
    _may_write(person)
    if not reason.strip():
        raise Unanswerable("Reason is blank; say what shows that the two belong together.", field="reason")
    _is_kept_whole("reason", "Reason", reason)
    if enquiry.pk == other.pk:
        raise Unanswerable("An enquiry cannot be tied with itself; choose another.", field="other")
    with turn():
        enquiry, other = hold(enquiry), hold(other)
        signed.refuse_moved(seen, tie_as_seen(enquiry), MOVED_ON)
        one, two = open_of(enquiry).open_ul, open_of(other).open_ul
        if one * two >= 0:
            sentence = (
                f"{enquiry.number} and {other.number} do not have a loss on one side and a gain on the other, "
                "so there is nothing to set off."
            )
            raise Unanswerable(sentence, field="other")
        for here, there in ((enquiry, other), (other, enquiry)):
            _open_for_answer(standing_of(here))
            add(here, What.TIED, person=person, text=reason.strip(), other=there)


def tied_with(enquiry: Enquiry) -> Enquiry | None:
    """The enquiry it was tied with last."""
    event = enquiry.events.filter(what=What.TIED).select_related("other").order_by("-serial").first()
    return event.other if event else None


@retried
def propose(enquiry: Enquiry, proposal: Proposal, *, person: Person) -> EnquiryEvent:
    """Proposes an ending; a second person has to agree before anything happens. Raises Unanswerable."""
    _may_write(person)
    if not proposal.checked.strip():
        raise Unanswerable(SMALL_WORDS[What.CHECKED], field="checked")
    if not proposal.reason.strip():
        raise Unanswerable("Reason is blank; say why this is the answer.", field="reason")
    _is_kept_whole("checked", "What was checked", proposal.checked)
    _is_kept_whole("reason", "Reason", proposal.reason)
    if proposal.ending == Ending.CORRECTED:
        sentence = "Correct the reading on its record; the enquiry then ends, or waits for a second person, by itself."
        raise Unanswerable(sentence, field="ending")
    with turn():
        enquiry = hold(enquiry)
        _open_for_answer(standing_of(enquiry))
        other = tied_with(enquiry) if proposal.ending == Ending.SET_OFF else None
        if proposal.ending == Ending.LOSS:
            _is_known_loss(enquiry, proposal)
        if proposal.ending == Ending.SET_OFF and other is None:
            raise Unanswerable("Tie it with the other enquiry first, with a written reason.", field="ending")
        is_loss = proposal.ending == Ending.LOSS
        return add(
            enquiry,
            What.PROPOSED,
            person=person,
            text=proposal.reason.strip(),
            checked=proposal.checked.strip(),
            ending=proposal.ending,
            cause=proposal.cause if is_loss else "",
            happened_at=proposal.happened_at if is_loss else None,
            product=proposal.product.strip() if is_loss else "",
            pure_ul=proposal.pure_ul if is_loss else 0,
            percent_millionths=round(proposal.percent * MICRO) if is_loss and proposal.percent is not None else None,
            other=other,
        )


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
            _still_open(enquiry, proposed.pure_ul)
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
            bring_up_to_date(period_of(enquiry.happened_at))
    return agreed


@retried
def send_back(enquiry: Enquiry, *, person: Person, reason: str) -> EnquiryEvent:
    """The second person does not agree, with a reason; the enquiry is open again. Raises Unanswerable."""
    _may_write(person)
    _need(reason, "Reason is blank; say what is still to be looked at.")
    with turn():
        enquiry = hold(enquiry)
        _waiting(enquiry)
        return add(enquiry, What.SENT_BACK, person=person, text=reason.strip())


@retried
def reopen(enquiry: Enquiry, *, person: Person, reason: str, second: Person | None = None) -> EnquiryEvent:
    """Opens an answered enquiry again; an explanation that was posted is taken back by its exact opposite.

    What two people agreed to, one holding the right to explain takes back. Raises Unanswerable or Refused.
    """
    _may_write(person)
    _need(reason, "Reason is blank; say why it is opened again.")
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
            bring_up_to_date(period_of(enquiry.happened_at))
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
    """An explanation answers for so much as it names: what is left beyond the threshold has still to be answered."""
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


def _is_known_loss(enquiry: Enquiry, proposal: Proposal) -> None:
    if not proposal.cause:
        raise Unanswerable("Cause is not chosen; choose one, or end it as cause not found.", field="cause")
    if proposal.happened_at is None:
        raise Unanswerable("When it was lost is blank; give the time, or the time it was found.", field="happened_at")
    if proposal.cause not in known_causes(proposal.happened_at):
        sentence = f"'{proposal.cause}' is no cause of loss of this site; choose one of its list."
        raise Unanswerable(sentence, field="cause")
    if period_of(proposal.happened_at) not in (enquiry.period, period_of(enquiry.happened_at)):
        sentence = f"The difference stands in {enquiry.period}; give a time in that month, so that the two meet there."
        raise Unanswerable(sentence, field="happened_at")
    if not proposal.product.strip():
        raise Unanswerable("Product is blank; say what was lost, such as new spirit.", field="product")
    if len(proposal.product.strip()) > LONGEST_PRODUCT:
        sentence = (
            f"Product is {len(proposal.product.strip())} characters long; at most {LONGEST_PRODUCT} are kept. Name it "
            "in a few words, and write the rest under Reason."
        )
        raise Unanswerable(sentence, field="product")
    if proposal.percent is None or not 0 < proposal.percent <= 100:
        raise Unanswerable("Strength has to lie above 0 and at most at 100 % by volume.", field="percent")
    if proposal.percent < LEAST_PERCENT:
        sentence = f"Strength has to be at least {LEAST_PERCENT} % by volume; weaker is not measured."
        raise Unanswerable(sentence, field="percent")
    if not proposal.pure_ul:
        raise Unanswerable("Alcohol is blank; say how many litres of pure alcohol this explains.", field="pure")
    _still_open(enquiry, proposal.pure_ul)


def _still_open(enquiry: Enquiry, pure_ul: int) -> None:
    left = open_of(enquiry).open_ul
    if left == 0:
        raise Unanswerable("No difference is left here, so there is nothing to explain as lost.", field="pure")
    if left * pure_ul < 0:
        raise Unanswerable(f"The difference is {difference(left, 4)}; an explanation has the same sign.", field="pure")
    if abs(pure_ul) > abs(left):
        explained = lpa(abs(pure_ul), 4) if abs(pure_ul) <= MOST_UL else "more than any site holds"
        sentence = (
            f"{lpa(abs(left), 4)} LPA of the difference are open, and {explained} would be explained; "
            "give at most what is open."
        )
        raise Unanswerable(sentence, field="pure")


def _open_for_answer(standing: Standing) -> None:
    if standing.state != State.OPEN:
        sentence = f"{standing.enquiry.number} is {standing.state}; open it again before it is answered anew."
        if standing.state == State.WAITING:
            sentence = f"{standing.enquiry.number} waits for a second person; have it sent back before another ending."
        raise Unanswerable(sentence)


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


def _may_write(person: Person) -> None:
    if not may_write(person):
        raise Unanswerable(f"{person.shown_name} may read but not write; ask someone on shift.")


def _need(reason: str, sentence: str) -> None:
    if not reason.strip():
        raise Unanswerable(sentence, field="reason")
    _is_kept_whole("reason", "Reason", reason)


def _is_kept_whole(field: str, label: str, text: str) -> None:
    if len(text.strip()) > LONGEST_TEXT:
        sentence = f"{label} is {len(text.strip())} characters long; at most {LONGEST_TEXT} are kept. Say it in fewer."
        raise Unanswerable(sentence, field=field)
