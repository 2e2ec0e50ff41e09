"""What the books say of a record besides what stands: movements taken back with their opposites, and enquiries."""

from __future__ import annotations

from batches.models import Record
from distillery import figures
from ledger.enquiries.standing import of_records
from ledger.models import Movement


def taken_back(record: Record) -> tuple[str, ...]:
    """Each movement of a record that was taken back, with its opposite: a sentence each, in their order."""
    movements = {
        one.pk: one
        for one in Movement.objects.filter(record_kind=record.kind, record_number=record.number)
        .select_related("person")
        .prefetch_related("legs")
        .order_by("pk")
    }
    return tuple(
        f"Movement {before.pk} ({_moved(before)} LPA) was taken back by its opposite, movement {one.pk} "
        f"({_moved(one)} LPA), {figures.moment(one.written_at, year=True)} by {one.person.shown_name}; both stay."
        for one in movements.values()
        if (before := movements.get(one.corrects_id or 0)) is not None
    )


def enquiries_of(record: Record) -> tuple[str, ...]:
    """The enquiries about a record and how each stands, a sentence each."""
    found = sorted(of_records([(record.kind, record.number)]), key=lambda one: one.enquiry.pk)
    return tuple(f"Enquiry {one.enquiry.number}: {one.in_words}." for one in found)


def _moved(movement: Movement) -> str:
    """How much it moved: what its legs brought in, litres of pure alcohol."""
    return figures.lpa(sum(leg.pure_ul for leg in movement.legs.all() if leg.pure_ul > 0))
