"""An ending proposed and agreed to in one go, by two people at one PC; and two enquiries that are one event."""

from __future__ import annotations

from distillery import signed
from distillery.database.retrying import retried
from distillery.figures import difference_said, lpa
from distillery.people.models import Person
from ledger.enquiries.answering.agreeing import agree
from ledger.enquiries.answering.noting import tie, tied_with
from ledger.enquiries.answering.proposing import Proposal, propose
from ledger.enquiries.answering.refusing import MOVED_ON
from ledger.enquiries.balance import open_of
from ledger.enquiries.following import followed
from ledger.enquiries.models import Ending, Enquiry, EnquiryEvent
from ledger.enquiries.opening import Unanswerable, hold
from ledger.enquiries.seen import open_as_seen
from ledger.enquiries.standing import history
from ledger.posting.turns import turn


@followed
@retried
def end(
    enquiry: Enquiry,
    proposal: Proposal,
    *,
    person: Person,
    second: Person | None = None,
    other: Enquiry | None = None,
    seen: str | None = None,
) -> EnquiryEvent:
    """Proposes an ending, tied with another enquiry first where it is set off against that, and has it agreed to where
    a second person is there. All of it or nothing. `seen` is the digest of what was on the page.

    Raises Unanswerable, signed.MovedOn or Refused.
    """
    with turn():
        enquiry = hold(enquiry)
        signed.refuse_moved(seen, open_as_seen(enquiry, open_of(enquiry).open_ul, history(enquiry)), MOVED_ON)
        if proposal.ending == Ending.SET_OFF and other is not None:
            _set_off(enquiry, other, proposal, person)
        proposed = propose(enquiry, proposal, person=person)
        # The second person has the boxes before them that were just read.
        return proposed if second is None else agree(enquiry, second=second)


def _set_off(enquiry: Enquiry, other: Enquiry, proposal: Proposal, person: Person) -> None:
    here, there = open_of(enquiry).open_ul, open_of(other).open_ul
    beyond_ul = max(enquiry.threshold_ul, other.threshold_ul)
    if here * there < 0 and abs(here + there) > beyond_ul > 0:
        sentence = (
            f"Set off against {other.number} {difference_said(here + there)} is left, beyond the review threshold of "
            f"{lpa(beyond_ul)} LPA; explain that much first."
        )
        raise Unanswerable(sentence, field="other")
    already = tied_with(enquiry)
    if already is None or already.pk != other.pk:
        tie(enquiry, other, person=person, reason=proposal.reason)
