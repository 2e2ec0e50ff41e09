"""How enquiries stand, read from their events: by month, by record, by finding.

Two queries however many enquiries there are. An enquiry is open until an event decides otherwise; what stands is
what the last deciding event says.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from django.db.models import OuterRef, Q, Subquery

from ledger.enquiries.models import Ending, Enquiry, EnquiryEvent, What
from ledger.models import Account, Leg
from ledger.periods.calendar import first_open


class State(StrEnum):
    """How an enquiry stands, in the words a page shows."""

    OPEN = "open"
    WAITING = "waiting for a second person"
    ANSWERED = "answered"
    PUT_RIGHT = "put right by a correction"
    GONE = "no longer there"


UNANSWERED: Final = frozenset({State.OPEN, State.WAITING})

DECIDES: Final = {
    What.PROPOSED: State.WAITING,
    What.AGREED: State.ANSWERED,
    What.SENT_BACK: State.OPEN,
    What.REOPENED: State.OPEN,
    What.TAKEN_BACK: State.OPEN,
    What.FOUND_AGAIN: State.OPEN,
    What.PUT_RIGHT: State.PUT_RIGHT,
    What.GONE: State.GONE,
}


@dataclass(frozen=True, slots=True)
class Standing:
    """One enquiry with how it stands and the event that decided it (None while nothing has)."""

    enquiry: Enquiry
    state: State
    decided: EnquiryEvent | None = None

    @property
    def in_words(self) -> str:
        """The state, with the cause where it was answered."""
        if self.state == State.ANSWERED and self.decided is not None:
            return f"{self.state}: {cause_in_words(self.decided)}"
        return str(self.state)

    @property
    def not_found(self) -> bool:
        """True where two people agreed that the cause could not be found: the law and the officer decide."""
        return self.state == State.ANSWERED and self.decided is not None and self.decided.ending == Ending.NOT_FOUND


def cause_in_words(event: EnquiryEvent) -> str:
    """The cause an event names, as written in a list."""
    if event.ending == Ending.LOSS:
        return event.cause
    if event.ending == Ending.SET_OFF and event.other is not None:
        return f"set off against {event.other.number}"
    words = {
        Ending.CORRECTED: "corrected",
        Ending.MEASURING: "measuring",
        Ending.RIGHT: "figures are right",
        Ending.NOT_FOUND: "cause not found",
    }
    return words.get(Ending(event.ending), event.ending)


def standings(enquiries: Iterable[Enquiry]) -> list[Standing]:
    """How each of these stands, in their order."""
    wanted = list(enquiries)
    if not wanted:
        return []
    last: dict[int, EnquiryEvent] = {}
    events = EnquiryEvent.objects.filter(
        enquiry__in=[one.pk for one in wanted], what__in=[str(what) for what in DECIDES]
    )
    for event in events.select_related("person", "movement", "other").order_by("enquiry_id", "serial"):
        last[event.enquiry_id] = event
    return [
        Standing(one, DECIDES[What(event.what)] if event else State.OPEN, event)
        for one, event in ((one, last.get(one.pk)) for one in wanted)
    ]


def standing_of(enquiry: Enquiry) -> Standing:
    """How one enquiry stands."""
    return standings([enquiry])[0]


def of_period(period: str) -> list[Standing]:
    """All enquiries that stand under a month, the unanswered ones first, then by number.

    What comes up again about a closed month can be answered in the first open one only, so it stands under that.
    """
    rows = Enquiry.objects.filter(period=period)
    if period == first_open():
        rows = Enquiry.objects.filter(period__lte=period)
    found = standings(rows.select_related("opened_by").order_by("pk"))
    kept = (one for one in found if one.enquiry.period == period or one.state in UNANSWERED)
    return sorted(kept, key=lambda one: one.state not in UNANSWERED)


def unanswered(period: str) -> list[Enquiry]:
    """Enquiries about a month that are open or wait for a second person, in order of number."""
    return [one.enquiry for one in of_period(period) if one.state in UNANSWERED]


def unanswered_up_to(period: str) -> list[Enquiry]:
    """Enquiries about a month or any before it that are open or wait for a second person, in order of period and
    number. One query, however many were answered.
    """
    decided = EnquiryEvent.objects.filter(enquiry=OuterRef("pk"), what__in=[str(what) for what in DECIDES])
    last = decided.order_by("-serial").values("what")[:1]
    open_still = [str(what) for what, state in DECIDES.items() if state in UNANSWERED]
    rows = Enquiry.objects.filter(period__lte=period).annotate(last=Subquery(last))
    return list(rows.filter(Q(last__isnull=True) | Q(last__in=open_still)).order_by("period", "pk"))


def of_records(records: Iterable[tuple[str, str]]) -> list[Standing]:
    """Enquiries opened on records, each given as (kind, number)."""
    wanted = set(records)
    rows = Enquiry.objects.filter(record_number__in={number for _, number in wanted}).order_by("pk")
    return standings(one for one in rows if (one.record_kind, one.record_number) in wanted)


def about_keys_and_records(keys: Collection[str], records: Collection[tuple[str, str]]) -> list[Standing]:
    """Enquiries about findings of these keys, or opened on these records, each given as (kind, number)."""
    rows = Enquiry.objects.filter(Q(key__in=keys) | Q(record_number__in={number for _, number in records}))
    wanted = (one for one in rows.order_by("pk") if one.key in keys or (one.record_kind, one.record_number) in records)
    return standings(wanted)


def of_account(account: Account, period: str) -> list[Standing]:
    """Enquiries about a month whose record has an entry on an account."""
    rows = list(Enquiry.objects.filter(period=period).order_by("pk"))
    touching = Leg.objects.filter(account=account, movement__record_number__in={one.record_number for one in rows})
    there = set(touching.values_list("movement__record_kind", "movement__record_number").distinct())
    return standings(one for one in rows if (one.record_kind, one.record_number) in there)


def by_key(keys: Iterable[str]) -> dict[str, Standing]:
    """Enquiries by the key of the finding they were opened about."""
    found = standings(Enquiry.objects.filter(key__in=set(keys)).order_by("pk"))
    return {one.enquiry.key: one for one in found}


def state_of(keys: Iterable[str]) -> dict[str, str]:
    """How the enquiry about each finding stands, in plain words; findings without an enquiry are left out."""
    return {key: standing.in_words for key, standing in by_key(keys).items()}


def history(enquiry: Enquiry) -> list[EnquiryEvent]:
    """Everything that was done about it, first to last."""
    return list(enquiry.events.select_related("person", "movement", "other").order_by("serial"))


def proposal_of(standing: Standing) -> EnquiryEvent | None:
    """The ending that waits for a second person."""
    return standing.decided if standing.state == State.WAITING else None
