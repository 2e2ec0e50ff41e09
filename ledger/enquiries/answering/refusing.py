"""What cannot be said about an enquiry, each refused in one sentence."""

from __future__ import annotations

from distillery.figures import difference_said, lpa
from distillery.people.models import Person
from distillery.people.roles import may_write
from ledger.enquiries.balance import open_of
from ledger.enquiries.models import Enquiry, What
from ledger.enquiries.opening import Unanswerable
from ledger.enquiries.standing import Standing, State

MOVED_ON = "Something has changed since this page was made, so nothing was signed; look at it as it stands now."
SMALL_WORDS = {
    What.NOTE: "The note is blank; write what is to be kept.",
    What.CHECKED: "What was checked is blank; say which reading, vessel or paper was looked at, and what it showed.",
    What.ASKED: "The reading asked for is blank; say which vessel is to be gauged, and with what.",
    What.CAUSE: "The cause is blank; say in a few words what is thought to be behind it.",
}

# About a page. A longer text is there by mistake, and all of it would be printed.
LONGEST_TEXT = 4000
# A thousand million litres: no figure beyond it is worth writing out.
MOST_UL = 10**15


def refuse_reader(person: Person) -> None:
    """Raises Unanswerable for someone who may not write."""
    if not may_write(person):
        raise Unanswerable(f"{person.shown_name} may read but not write; ask someone on shift.")


def need_reason(reason: str, sentence: str) -> None:
    """Raises Unanswerable where the reason is blank, with this sentence, or too long."""
    if not reason.strip():
        raise Unanswerable(sentence, field="reason")
    refuse_overlong("reason", "Reason", reason)


def refuse_overlong(field: str, label: str, text: str) -> None:
    """Raises Unanswerable for a text longer than is kept."""
    if len(text.strip()) > LONGEST_TEXT:
        sentence = f"{label} is {len(text.strip())} characters long; at most {LONGEST_TEXT} are kept. Say it in fewer."
        raise Unanswerable(sentence, field=field)


def refuse_unless_open(standing: Standing) -> None:
    """Raises Unanswerable where the enquiry is answered, or waits for a second person."""
    if standing.state != State.OPEN:
        sentence = f"{standing.enquiry.number} is {standing.state}; open it again before it is answered anew."
        if standing.state == State.WAITING:
            sentence = f"{standing.enquiry.number} waits for a second person; have it sent back before another ending."
        raise Unanswerable(sentence)


def refuse_beyond_open(enquiry: Enquiry, pure_ul: int) -> None:
    """Raises Unanswerable where an explanation, microlitres, is not part of what is open."""
    left = open_of(enquiry).open_ul
    if left == 0:
        raise Unanswerable("No difference is left here, so there is nothing to explain as lost.", field="pure")
    if left * pure_ul < 0:
        raise Unanswerable(
            f"The difference is {difference_said(left, 4)}; an explanation goes the same way.", field="pure"
        )
    if abs(pure_ul) > abs(left):
        explained = lpa(abs(pure_ul), 4) if abs(pure_ul) <= MOST_UL else "more than any site holds"
        sentence = (
            f"{lpa(abs(left), 4)} LPA of the difference are open, and {explained} would be explained; "
            "give at most what is open."
        )
        raise Unanswerable(sentence, field="pure")
