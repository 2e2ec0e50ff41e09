"""The second person's part: agreeing to the version of a record that waits, or sending it back."""

from __future__ import annotations

from datetime import datetime

from django.utils import timezone

from batches.models import Record, State
from batches.records import signatures, versions
from batches.records.occupied import leave_occupied_alone
from batches.records.posting import standing_of
from batches.records.refusals import MovedOn, another_person, need_reason, who_may_write
from batches.records.settling import TakenDown, settle, stand, take_out
from batches.sheets.register import sheet_of
from batches.sheets.sheet import Problem
from batches.sheets.site import Site
from batches.sheets.typed.read_sheet import Unfit, read_sheet
from batches.standing import version_in_books
from distillery.database.retrying import retried
from distillery.people.models import Person
from ledger.enquiries.following import followed
from ledger.posting.turns import turn


@followed
@retried
def countersign(
    record: Record, second: Person, *, seen: str | None = None, written_at: datetime | None = None
) -> Record:
    """Agrees to the version of a record that waits for a second person, and does what it asks: posts it, posts it in
    place of what was signed before, or makes the record void.

    `seen` is the digest of the version that was on the page; nothing is signed where another stands by now. Raises
    Unfit, MovedOn, Busy.
    """
    sheet, site = sheet_of(record.kind), Site()
    written_at = written_at or timezone.now()
    with turn():
        record = Record.objects.select_for_update().get(pk=record.pk)
        version = versions.newest(record)
        waits = record.state == State.WAITING
        if not waits and signatures.changed_since(record, version) is None:
            raise Unfit([Problem("", None, f"{record.number} is not waiting for a second person.")])
        another_person(second, version.person)
        if seen is not None and seen != version.digest:
            raise MovedOn(record, version)
        if signatures.asks_void(version):
            return take_out(
                sheet, record, version, person=version.person, second=second, written_at=written_at, site=site
            )
        if not waits:
            record.second = second
            record.save(update_fields=["second"])
            signatures.sign(record, version, signatures.AGREED, person=second, at=written_at)
            return record
        typed, lines = versions.typed_of(version)
        filled = read_sheet(sheet, typed, lines, site=site, number=record.number).require()
        leave_occupied_alone(sheet, record.number, filled)
        posted = standing_of(record)
        if posted:
            base = versions.typed_of(version_in_books(record))
            taken_down = TakenDown.of(sheet, record, base, filled, posted, site=site)
            taken_down.post_again(version, person=version.person, second=second, written_at=written_at)
        else:
            settle(
                sheet, record, filled, version, person=version.person, second=second, written_at=written_at, site=site
            )
    return record


@retried
def send_back(
    record: Record, *, person: Person, reason: str, seen: str | None = None, written_at: datetime | None = None
) -> Record:
    """Does not agree to what waits on a record that was signed before: what was signed stands on it again.

    Whoever asked for it may take it back in the same way. `seen` as in `countersign`. Raises Unfit, MovedOn, Busy.
    """
    sheet, site = sheet_of(record.kind), Site()
    who_may_write(person)
    need_reason(reason)
    with turn():
        # Taken in the turn, so that times run the way of the chain however long anybody waited.
        written_at = written_at or timezone.now()
        record = Record.objects.select_for_update().get(pk=record.pk)
        version, signature = versions.newest(record), signatures.newest(record)
        if record.state != State.WAITING or signature is None:
            raise Unfit([Problem("", None, f"Nothing that waits on {record.number} can be sent back; correct it.")])
        if seen is not None and seen != version.digest:
            raise MovedOn(record, version)
        typed, lines = versions.typed_of(version_in_books(record))
        filled = read_sheet(sheet, typed, lines, site=site, number=record.number)
        signatures.sign(record, version, signatures.SENT_BACK, person=person, at=written_at)
        versions.write(record, filled, person=person, written_at=written_at, reason=f"Not agreed to: {reason.strip()}")
        stand(sheet, record, filled, second=signature.person, waits=False)
        record.save()
    return record
