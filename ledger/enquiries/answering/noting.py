"""What people do about an enquiry while it is open: note what was looked at, tie it with another."""

from __future__ import annotations

from distillery import signed
from distillery.database.retrying import retried
from distillery.people.models import Person
from ledger.enquiries.answering.refusing import (
    MOVED_ON,
    SMALL_WORDS,
    refuse_overlong,
    refuse_reader,
    refuse_unless_open,
)
from ledger.enquiries.balance import open_of
from ledger.enquiries.models import Enquiry, EnquiryEvent, What
from ledger.enquiries.opening import Unanswerable, add, hold
from ledger.enquiries.seen import tie_as_seen
from ledger.enquiries.standing import standing_of
from ledger.posting.turns import turn


@retried
def note(enquiry: Enquiry, what: What, text: str, *, person: Person) -> EnquiryEvent:
    """Writes a note, what was checked, a reading asked for, or what is thought to be the cause. Raises Unanswerable."""
    refuse_reader(person)
    if not text.strip():
        raise Unanswerable(SMALL_WORDS[what], field="words")
    refuse_overlong("words", "In your words", text)
    with turn():
        return add(hold(enquiry), what, person=person, text=text.strip())


@retried
def tie(enquiry: Enquiry, other: Enquiry, *, person: Person, reason: str, seen: str | None = None) -> None:
    """Ties a loss with a gain that is shown to be related, in both enquiries, with its reason.

    `seen` is the digest of what was on the page. Raises Unanswerable, signed.MovedOn.
    """
    refuse_reader(person)
    if not reason.strip():
        raise Unanswerable("Reason is blank; say what shows that the two belong together.", field="reason")
    refuse_overlong("reason", "Reason", reason)
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
            refuse_unless_open(standing_of(here))
            add(here, What.TIED, person=person, text=reason.strip(), other=there)


def tied_with(enquiry: Enquiry) -> Enquiry | None:
    """The enquiry it was tied with last."""
    event = enquiry.events.filter(what=What.TIED).select_related("other").order_by("-serial").first()
    return event.other if event else None
