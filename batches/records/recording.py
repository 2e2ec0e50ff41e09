"""The one way a record is opened, added to, corrected, countersigned or made void.

A record may be saved in several goes, the charge first and the finish later; each saving adds a version and posts
every moment that has become complete. What is in the books is changed only by a correction with its reason: the
exact opposite, the new entry in its place, and whatever was worked out from it anew. One transaction each, in its
turn (ledger/posting/turns.py) and tried again while the database is busy; where anything is wrong nothing is written.

What a second person has signed is changed by two people as well: a correction of it, or its being made void, is written
as a version that waits, and the books keep what was signed until somebody else agrees to that version.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime

from django.utils import timezone

from batches.models import Record, State
from batches.records import signatures, versions
from batches.records import submit_once as sendings
from batches.records.asking import Asked, Sure, ask_about_times
from batches.records.countersigning import countersign, send_back
from batches.records.numbers import next_number, note_number
from batches.records.occupied import leave_occupied_alone
from batches.records.posting import drafts_of, standing_of
from batches.records.readings import add_reading, strike_reading
from batches.records.refusals import (
    MovedOn,
    another_person,
    as_seen,
    existing,
    keep_posted_moments,
    leave_posted_alone,
    named_by_none,
    need_reason,
    not_void,
    who_may_write,
)
from batches.records.settling import TakenDown, periods_of, settle, stand, take_out, waits_for_another
from batches.records.submit_once import AlreadySaved, SentForm
from batches.sheets.read_sheet import Unfit, read_sheet
from batches.sheets.register import sheet_of
from batches.sheets.sheet import Problem, Sheet
from batches.sheets.site import Site
from batches.standing import version_in_books
from distillery.clock.reading import books_now
from distillery.people.models import Person
from distillery.retrying import Busy, retried
from ledger.enquiries.following import followed, undecided_before
from ledger.posting.turns import turn

__all__ = [
    "AlreadySaved",
    "Asked",
    "Busy",
    "MovedOn",
    "Unfit",
    "add_reading",
    "correct",
    "countersign",
    "save",
    "send_back",
    "strike_reading",
    "void",
]

Typed = Mapping[str, str]

LONGEST_NUMBER = 40


@followed
@retried
def save(
    kind: str,
    number: str | None,
    values: Typed,
    rows: Sequence[Typed] = (),
    *,
    person: Person,
    second: Person | None = None,
    written_at: datetime | None = None,
    site: Site | None = None,
    day: date | None = None,
    now: datetime | None = None,
    strict: bool = False,
    seen: int | None = None,
    sent: SentForm | None = None,
    sure: Sure = False,
    ends: datetime | None = None,
) -> Record:
    """Opens a record, or adds to the one with that number, and posts each moment that is complete.

    Fields left out keep what stands; a field given blank is cleared. `seen` is the version the writer had before them,
    `sent` the form it was written on. `day` is the day of a bare time, `now` what the books' clock says. `sure` names
    the questions about times that are answered, or says that all are. `ends` is when the record ended, where a log says
    that and hands it over moment by moment. Raises Unfit with all that is wrong, Asked,
    MovedOn, AlreadySaved, Busy.
    """
    sheet, site = sheet_of(kind), site or Site()
    who_may_write(person)
    if second is not None:
        another_person(second, person)
    with turn():
        # Taken in the turn, so that times run the way of the chain however long anybody waited.
        written_at = written_at or timezone.now()
        sendings.refuse_again(sent)
        record = existing(sheet, number)
        if record is None:
            record = _open(
                sheet,
                number,
                values,
                rows,
                person=person,
                second=second,
                written_at=written_at,
                site=site,
                day=day,
                now=now or books_now(),
                strict=strict,
                sure=sure,
                ends=ends,
            )
            sendings.remember(sent, record)
            return record
        old = versions.newest(record)
        as_seen(record, old, seen)
        old_typed, old_rows = versions.typed_of(old)
        typed, lines = versions.merged(old_typed, old_rows, values, rows)
        posted = standing_of(record)
        leave_posted_alone(sheet, record, posted, (old_typed, old_rows), (typed, lines))
        now = now or books_now()
        filled = read_sheet(
            sheet, typed, lines, site=site, number=record.number, day=day, now=now, strict=strict
        ).require()
        if (filled.typed, filled.rows) == (old_typed, old_rows):
            return record
        leave_occupied_alone(sheet, record.number, filled, ends=ends)
        ask_about_times(filled, now=now, sure=sure, before=(old_typed, old_rows))
        version = versions.write(record, filled, person=person, written_at=written_at)
        settle(sheet, record, filled, version, person=person, second=second, written_at=written_at, site=site)
        sendings.remember(sent, record)
    return record


@followed
@retried
def correct(
    record: Record,
    values: Typed,
    rows: Sequence[Typed] | None = None,
    *,
    person: Person,
    reason: str,
    second: Person | None = None,
    written_at: datetime | None = None,
    site: Site | None = None,
    day: date | None = None,
    now: datetime | None = None,
    seen: int | None = None,
    sent: SentForm | None = None,
    sure: Sure = False,
) -> Record:
    """Puts a record right: a new version with its reason, and in the books the opposite and the new entry.

    Fields left out keep what stands; rows left out keep theirs. Records whose figures were worked out from this one
    are posted anew with it. What a second person has signed waits for one again before it is posted. The rest as in
    `save`. Raises Unfit, Asked, MovedOn, AlreadySaved, Busy.
    """
    sheet, site = sheet_of(record.kind), site or Site()
    who_may_write(person)
    if second is not None:
        another_person(second, person)
    need_reason(reason)
    with turn():
        # Taken in the turn, so that times run the way of the chain however long anybody waited.
        written_at = written_at or timezone.now()
        sendings.refuse_again(sent)
        record = Record.objects.select_for_update().get(pk=record.pk)
        not_void(record)
        old = versions.newest(record)
        as_seen(record, old, seen)
        old_typed, old_rows = versions.typed_of(old)
        typed, lines = versions.merged(old_typed, old_rows, values, old_rows if rows is None else rows)
        now = now or books_now()
        filled = read_sheet(sheet, typed, lines, site=site, number=record.number, day=day, now=now).require()
        if (filled.typed, filled.rows) == (old_typed, old_rows):
            raise Unfit([Problem("", None, f"Nothing is different from what stands on {record.number}.")])
        leave_occupied_alone(sheet, record.number, filled)
        ask_about_times(filled, now=now, sure=sure, before=(old_typed, old_rows))
        posted = standing_of(record)
        keep_posted_moments(sheet, record, filled, posted)
        if waits_for_another(sheet, record, filled, posted, second=second):
            drafts_of(filled)
            version = versions.write(record, filled, person=person, written_at=written_at, reason=reason)
            settle(sheet, record, filled, version, person=person, second=None, written_at=written_at, site=site)
        else:
            base = versions.typed_of(version_in_books(record))
            undecided = undecided_before(periods_of(record, filled), by=person) if second is None else None
            taken_down = TakenDown.of(sheet, record, base, filled, posted, site=site, undecided=undecided)
            version = versions.write(record, filled, person=person, written_at=written_at, reason=reason)
            taken_down.post_again(version, person=person, second=second, written_at=written_at)
        sendings.remember(sent, record)
    return record


@followed
@retried
def void(
    record: Record,
    *,
    person: Person,
    reason: str,
    second: Person | None = None,
    written_at: datetime | None = None,
) -> Record:
    """Takes a record out of the books again; its number and all that stood on it remain.

    One that a second person has signed stays in the books until a second person agrees. Raises Unfit, Busy.
    """
    sheet, site = sheet_of(record.kind), Site()
    who_may_write(person)
    if second is not None:
        another_person(second, person)
    need_reason(reason)
    with turn():
        written_at = written_at or timezone.now()
        record = Record.objects.select_for_update().get(pk=record.pk)
        not_void(record)
        named_by_none(record)
        old = versions.newest(record)
        typed, lines = versions.typed_of(old)
        filled = read_sheet(sheet, typed, lines, site=site, number=record.number)
        waits = second is None and bool(standing_of(record)) and signatures.newest(record) is not None
        if waits and signatures.asks_void(old):
            sentence = f"{old.person.shown_name} has asked for it already; a second person has to agree."
            raise Unfit([Problem("", None, sentence)])
        version = versions.write(record, filled, person=person, written_at=written_at, reason=reason)
        if waits:
            signatures.sign(record, version, signatures.VOID_ASKED, person=person, at=written_at)
            record.state, record.second = State.WAITING, None
            record.save(update_fields=["state", "second"])
            return record
        return take_out(sheet, record, version, person=person, second=second, written_at=written_at, site=site)


def _open(
    sheet: Sheet,
    number: str | None,
    values: Typed,
    rows: Sequence[Typed],
    *,
    person: Person,
    second: Person | None,
    written_at: datetime,
    site: Site,
    day: date | None,
    now: datetime,
    strict: bool,
    sure: Sure,
    ends: datetime | None,
) -> Record:
    if number and len(number) > LONGEST_NUMBER:
        sentence = f"{number} is {len(number)} characters long; a number has at most {LONGEST_NUMBER}."
        raise Unfit([Problem(sheet.number_column, None, sentence)])
    taken = number or next_number(sheet)
    filled = read_sheet(sheet, values, rows, site=site, number=taken, day=day, now=now, strict=strict).require()
    leave_occupied_alone(sheet, taken, filled, ends=ends)
    identity = versions.identity_of(sheet, filled.completed.values)
    if identity:
        other = Record.objects.filter(kind=sheet.kind, identity=identity).first()
        if other is not None:
            sentence = f"{other.number} says this already; correct it on its page."
            raise Unfit([Problem(sheet.identity[0], None, sentence)])
    ask_about_times(filled, now=now, sure=sure)
    if number:
        note_number(sheet, number)
    record = Record(kind=sheet.kind, number=taken, opened_by=person, opened_at=written_at)
    stand(sheet, record, filled, second=second, waits=sheet.second_person and second is None)
    record.save(force_insert=True)
    version = versions.write(record, filled, person=person, written_at=written_at, serial=1)
    settle(sheet, record, filled, version, person=person, second=second, written_at=written_at, site=site, fresh=True)
    return record
