"""The only writer of movements: works out the legs, keeps every book at its gauges, seals the entry.

A gauge is taken to account: in the movement that carries it, the vessel's book is brought to what was
measured. From this follows the one rule that corrections and late entries keep: just after every gauge
that stands, the book equals the gauge. Whatever is written into the past moves the book only as far as
the next gauge of that vessel, where the same posting restates what the gauge had found.

Order within one moment: `position` = place of the movement x 4096 + line. A restatement takes the very
position of the gauge it restates and so stands right behind it; a re-recorded movement takes the place
of the one it replaces.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction
from django.utils import timezone

from distillery.people.models import Person
from ledger.accounts import AccountRef
from ledger.drafts import Book, Draft, Refused
from ledger.models import Movement, MovementKind, RunningBalance
from ledger.writing import Writing

__all__ = ["Book", "Refused", "book_before", "correct", "post"]


def post(
    draft: Draft,
    *,
    person: Person,
    second: Person | None = None,
    record_digest: str = "",
    written_at: datetime | None = None,
    kind: str = MovementKind.OPERATION,
) -> Movement:
    """Writes one movement. Raises Refused, with nothing written, where it cannot be."""
    with transaction.atomic():
        writing = Writing(person=person, second=second, written_at=written_at or timezone.now())
        movement = writing.write(draft, record_digest=record_digest, kind=kind)
        writing.finish()
    return movement


def correct(
    movements: Sequence[Movement],
    drafts: Sequence[Draft],
    *,
    person: Person,
    reason: str,
    second: Person | None = None,
    record_digest: str = "",
    written_at: datetime | None = None,
) -> list[Movement]:
    """Writes the exact opposite of each movement, then the drafts in their places, then restates.

    A draft takes the place of the corrected movement of the same moment. Returns the new movements.
    """
    if not reason.strip():
        raise Refused("Say why this is corrected; the reason is kept beside both figures.", field="reason")
    with transaction.atomic():
        writing = Writing(person=person, second=second, written_at=written_at or timezone.now())
        for movement in sorted(movements, key=lambda movement: movement.pk, reverse=True):
            writing.reverse(movement, reason=reason)
        slots = {movement.moment: movement.slot for movement in movements}
        written = [
            writing.write(draft, record_digest=record_digest, slot=slots.get(draft.moment), reason=reason)
            for draft in sorted(drafts, key=lambda draft: draft.happened_at)
        ]
        writing.finish()
    return written


def book_before(account: AccountRef, happened_at: datetime) -> Book:
    """What an account's book said just before a moment, everything written so far counted."""
    row = (
        RunningBalance.objects.filter(account__code=account.code, happened_at__lte=happened_at)
        .order_by("-happened_at", "-position", "-leg_id")
        .values_list("balance_ul", "mass_g")
        .first()
    )
    return Book(*row) if row else Book(0, 0)
