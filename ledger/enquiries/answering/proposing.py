"""An ending as one person proposes it, before a second has agreed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from distillery.database.retrying import retried
from distillery.people.models import Person
from distillery.plant.models import MICRO
from ledger.enquiries.answering.noting import tied_with
from ledger.enquiries.answering.refusing import (
    SMALL_WORDS,
    refuse_beyond_open,
    refuse_overlong,
    refuse_reader,
    refuse_unless_open,
)
from ledger.enquiries.explaining import known_causes
from ledger.enquiries.models import Ending, Enquiry, EnquiryEvent, What
from ledger.enquiries.opening import Unanswerable, add, hold
from ledger.enquiries.standing import standing_of
from ledger.periods import period_of
from ledger.posting.turns import turn

LONGEST_PRODUCT = 80
# The weakest strength that is stated at all, and so the weakest a loss can be worked out from (% vol at 20 °C).
LEAST_PERCENT = 0.01


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
def propose(enquiry: Enquiry, proposal: Proposal, *, person: Person) -> EnquiryEvent:
    """Proposes an ending; a second person has to agree before anything happens. Raises Unanswerable."""
    refuse_reader(person)
    if not proposal.checked.strip():
        raise Unanswerable(SMALL_WORDS[What.CHECKED], field="checked")
    if not proposal.reason.strip():
        raise Unanswerable("Reason is blank; say why this is the answer.", field="reason")
    refuse_overlong("checked", "What was checked", proposal.checked)
    refuse_overlong("reason", "Reason", proposal.reason)
    if proposal.ending == Ending.CORRECTED:
        sentence = "Correct the reading on its record; the enquiry then ends, or waits for a second person, by itself."
        raise Unanswerable(sentence, field="ending")
    with turn():
        enquiry = hold(enquiry)
        refuse_unless_open(standing_of(enquiry))
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
    refuse_beyond_open(enquiry, proposal.pure_ul)
