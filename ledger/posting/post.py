"""The only writer of movements: works out the legs, keeps every book at its gauges, seals the entry.

A gauge is taken to account: in the movement that carries it, the vessel's book is brought to what was
measured. So corrections and late entries keep one rule: just after every gauge that stands, the book equals
the gauge. An entry written into the past changes the book up to the next gauge of that vessel. There the same
posting restates what the gauge had found.

Order within one moment: `position` = place of the movement x 4096 + line. A restatement takes the very
position of the gauge it restates and so stands right behind it; a re-recorded movement takes the place
of the one it replaces. What truly happened in a closed period is carried at the first open moment, before
everything that happened there (ledger/periods/places.py).
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.utils import timezone

from distillery.database.retrying import retried
from distillery.people.models import Person
from ledger.models import Account, Movement, MovementKind
from ledger.periods.calendar import open_from
from ledger.periods.places import book_at
from ledger.posting.accounts import AccountRef
from ledger.posting.drafts import Book, Draft, Refused
from ledger.posting.turns import turn
from ledger.posting.writing import Writing

__all__ = ["Book", "Refused", "book_before", "correct", "post"]


@retried
def post(
    draft: Draft,
    *,
    person: Person,
    second: Person | None = None,
    record_digest: str = "",
    written_at: datetime | None = None,
    kind: str = MovementKind.OPERATION,
) -> Movement:
    """Writes one movement. Raises Refused, with nothing written, where it cannot be; Busy where it was not its turn."""
    with turn(person) as end:
        writing = Writing(end, person=person, second=second, written_at=written_at or timezone.now())
        movement = writing.write(draft, record_digest=record_digest, kind=kind)
        writing.finish()
    return movement


@retried
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

    A draft takes the place of the corrected movement of the same record and moment. Returns the new movements.
    """
    if not reason.strip():
        raise Refused("Say why this is corrected; the reason is kept beside both figures.", field="reason")
    with turn(person) as end:
        writing = Writing(end, person=person, second=second, written_at=written_at or timezone.now())
        for movement in sorted(movements, key=lambda movement: movement.pk, reverse=True):
            writing.reverse(movement, reason=reason)
        slots = {
            (movement.record_kind, movement.record_number, movement.moment): movement.slot for movement in movements
        }
        placed = [(draft, slots.get((draft.record_kind, draft.record_number, draft.moment))) for draft in drafts]
        # In order of their places: each must meet the book that those before it have left.
        placed.sort(key=lambda one: (one[0].happened_at, one[1] is None, one[1]))
        written = [
            writing.write(draft, record_digest=record_digest, slot=slot, reason=reason) for draft, slot in placed
        ]
        writing.finish()
    return written


def book_before(account: AccountRef, happened_at: datetime) -> Book:
    """What an account's book said at a moment, everything written so far counted in its true place."""
    since = open_from()
    closed = since is not None and happened_at < since
    pk = Account.objects.filter(code=account.code).values_list("pk", flat=True).first()
    return Book(0, 0) if pk is None else Book(*book_at(pk, happened_at, closed=closed))
