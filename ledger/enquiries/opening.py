"""Opening an enquiry, and writing down what is done about it: the two places where rows are added.

Numbers run without gaps: the end of the ledger's chain is held while one is taken, as it is by every posting.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.utils import timezone

from distillery.database.retrying import retried
from distillery.people.models import Person
from distillery.people.roles import may_write
from ledger.enquiries.models import Enquiry, EnquiryEvent, What
from ledger.enquiries.standing import UNANSWERED, of_records
from ledger.models import Head, Movement
from ledger.periods import is_closed, open_from, period_of
from ledger.posting.turns import turn

BY_HAND = "by hand"


class Unanswerable(Exception):
    """What was asked cannot be done with this enquiry: one sentence, and the box it concerns where there is one."""

    def __init__(self, sentence: str, *, field: str = "") -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.field = field


@dataclass(frozen=True, slots=True)
class About:
    """What an enquiry is opened about: a finding's figures, or a record a person wants looked into. Microlitres."""

    key: str
    kind: str
    record_kind: str
    record_number: str
    operation: str
    happened_at: datetime
    period: str
    said: str
    difference_ul: int = 0
    uncertainty_ul: int = 0
    threshold_ul: int = 0
    in_ul: int = 0
    basis: str = ""


def open_about(about: About, *, person: Person | None = None, at: datetime | None = None) -> Enquiry:
    """Opens an enquiry, or gives the one of the same key. Where no person is named the program opens it."""
    if person is not None and not may_write(person):
        raise Unanswerable(f"{person.shown_name} may read but not write; ask someone on shift.")
    with turn():
        there = Enquiry.objects.filter(key=about.key).first()
        if there is not None:
            return there
        return Enquiry.objects.create(
            number=f"EQ{Enquiry.objects.count() + 1:04d}",
            key=about.key,
            kind=about.kind,
            opened_at=at or timezone.now(),
            opened_by=person,
            record_kind=about.record_kind,
            record_number=about.record_number,
            operation=about.operation,
            happened_at=about.happened_at,
            period=about.period,
            difference_ul=about.difference_ul,
            uncertainty_ul=about.uncertainty_ul,
            threshold_ul=about.threshold_ul,
            in_ul=about.in_ul,
            basis=about.basis,
            said=about.said,
        )


@retried
def open_by_hand(record_kind: str, record_number: str, *, person: Person, why: str) -> Enquiry:
    """Opens an enquiry on any record because a person wants it looked into. Raises Unanswerable."""
    if not why.strip():
        raise Unanswerable("Why is blank; say what is to be looked into.", field="words")
    movements = Movement.objects.operations().filter(record_kind=record_kind, record_number=record_number)
    newest = movements.order_by("-happened_at", "-slot").first()
    if not may_write(person):
        raise Unanswerable(f"{person.shown_name} may read but not write; ask someone on shift.")
    if newest is None:
        raise Unanswerable(f"Nothing of {record_number} is in the books, so there is nothing to enquire into yet.")
    there = [one for one in of_records([(record_kind, record_number)]) if one.state in UNANSWERED]
    if there:
        # One fault has one enquiry: what else was seen belongs to it.
        with turn():
            add(hold(there[0].enquiry), What.NOTE, person=person, text=why.strip())
        return there[0].enquiry
    before = Enquiry.objects.filter(kind=BY_HAND, record_kind=record_kind, record_number=record_number).count()
    about = About(
        key=f"{BY_HAND}:{record_kind}:{record_number}:{before + 1}",
        kind=BY_HAND,
        record_kind=record_kind,
        record_number=record_number,
        operation=newest.operation,
        happened_at=newest.true_at or newest.happened_at,
        period=open_period(newest.period),
        said=why.strip(),
    )
    return open_about(about, person=person)


def open_period(period: str) -> str:
    """The period itself, or where it is closed the first that is not: what is found later is answered there."""
    first_open = open_from()
    return period_of(first_open) if is_closed(period) and first_open is not None else period


def add(enquiry: Enquiry, what: What, *, person: Person | None, **more: Any) -> EnquiryEvent:
    """Adds one event behind those there are. The caller has the enquiry from `hold`."""
    last = enquiry.events.order_by("-serial").values_list("serial", flat=True).first() or 0
    return EnquiryEvent.objects.create(
        enquiry=enquiry, serial=last + 1, what=what, at=timezone.now(), person=person, **more
    )


def hold(enquiry: Enquiry) -> Enquiry:
    """The enquiry once nobody else writes: two people at two PCs cannot end it at the same time."""
    Head.objects.select_for_update().get(id=1)
    return Enquiry.objects.get(pk=enquiry.pk)
