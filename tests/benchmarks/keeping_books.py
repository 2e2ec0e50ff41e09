"""What two people do to their books month by month: put an earlier record right, answer what was found, close.

All of it by the program's own services, as the pages would ask for it.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from batches.models import Record, State
from batches.records import recording
from batches.records.versions import newest, typed_of
from distillery.people.models import Person
from ledger.enquiries.answering import Proposal, agree, propose
from ledger.enquiries.models import Ending, Enquiry
from ledger.enquiries.standing import State as Answered
from ledger.enquiries.standing import standing_of, unanswered
from ledger.periods import service
from ledger.periods.calendar import Calendar

# What is put right in turn: the kind of record, and the figure that had been read or written a shade too low.
CORRECTED = (
    ("spirit_run", "spirit_after_celsius", "0.1"),
    ("wash_run", "receiver_after_celsius", "0.1"),
    ("mash", "water1_celsius", "0.2"),
    ("transfer", "to_after_celsius", "0.1"),
)


@dataclass(frozen=True, slots=True)
class Hands:
    """The two people in whose hands the books are: one writes, the other is the manager."""

    writer: Person
    manager: Person


def put_right(turn: int, month: str, hands: Hands) -> Record | None:
    """Corrects one figure of a record of this month ('2024-03'), a kind of record for each turn.

    The record is one of the middle of the month, with everything that was worked out from it since. None where the
    month has no such record.
    """
    kind, field, add = CORRECTED[turn % len(CORRECTED)]
    begins, ends = Calendar.read().bounds(month)
    there = Record.objects.filter(kind=kind, state=State.COMPLETE, happened_from__gte=begins, happened_from__lt=ends)
    of_month = list(there.order_by("happened_from", "pk"))
    if not of_month:
        return None
    record = of_month[len(of_month) // 2]
    typed, _ = typed_of(newest(record))
    values = {field: str(Decimal(typed[field]) + Decimal(add))}
    return recording.correct(record, values, person=hands.writer, reason="Misread; seen on the sheet.", sure=True)


def answer_until(month: str, hands: Hands) -> int:
    """Ends every enquiry about this month and those before it as cause not found, in two hands; gives how many."""
    periods = Enquiry.objects.filter(period__lte=month).order_by("period").values_list("period", flat=True).distinct()
    answered = 0
    for enquiry in {one.pk: one for period in [*periods] for one in unanswered(period)}.values():
        proposal = Proposal(Ending.NOT_FOUND, "Sheets and dips looked through.", "Nothing was found that explains it.")
        if standing_of(enquiry).state != Answered.WAITING:
            propose(enquiry, proposal, person=hands.writer)
            agree(enquiry, second=hands.manager)
        else:
            # A correction by the writer waits for the other hand.
            agree(enquiry, second=hands.manager)
        answered += 1
    return answered


def close(month: str, hands: Hands) -> int:
    """The manager asks, the writer agrees; what stands in the way is answered first. Gives how many were answered."""
    answered = answer_until(month, hands)
    try:
        request = _ask(month, hands)
    except service.CannotClose:
        # The comparison before the signature found something more.
        answered += answer_until(month, hands)
        request = _ask(month, hands)
    service.agree(request, person=hands.writer)
    return answered


def _ask(month: str, hands: Hands) -> Any:
    return service.ask(month, person=hands.manager, remark="Some vessels were at work when stock was taken.")
