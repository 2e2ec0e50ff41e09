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
from typing import Any

from django.utils import timezone

from batches.hands import ALONE, Hands
from batches.models import Record, State
from batches.records import signatures, versions
from batches.records import submit_once as sendings
from batches.records.asking import Asked, NotSigned, Sure, enter_new_casks
from batches.records.countersigning import countersign, send_back
from batches.records.ending import in_the_way, values_to_end
from batches.records.handed import Ahead, Handed, NewSheet, SheetOnRecord
from batches.records.numbers import coming_number, next_number, note_number
from batches.records.posting import drafts_of, standing_of
from batches.records.readings import add_reading, strike_reading
from batches.records.refusals import (
    MovedOn,
    another_person,
    existing,
    named_by_none,
    need_reason,
    not_void,
    who_may_write,
)
from batches.records.settling import TakenDown, periods_of, settle, stand, take_out, waits_for_another
from batches.records.submit_once import AlreadySaved, SentForm
from batches.sheets.register import sheet_of
from batches.sheets.sheet import Problem
from batches.sheets.site import Site
from batches.sheets.typed.read_sheet import Unfit, read_sheet
from batches.standing import version_in_books
from distillery.database.fixed_sql import add_one
from distillery.database.retrying import Busy, retried
from distillery.people.models import Person
from distillery.seals.writing import goes_on
from ledger.enquiries.following import followed, undecided_before
from ledger.posting.turns import turn

__all__ = [
    "AlreadySaved",
    "Asked",
    "Busy",
    "MovedOn",
    "NotSigned",
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
    ending: str = "",
    hands: Hands = ALONE,
) -> Record:
    """Opens a record, or adds to the one with that number, and posts each moment that is complete.

    Fields left out keep what stands; a field given blank is cleared. `seen` is the version the writer had before them,
    `sent` the form it was written on. `day` is the day of a bare time, `now` what the books' clock says. `sure` names
    the questions that are answered, or says that all are. `ends` is when the record ended, where a log says
    that and hands it over moment by moment. `ending` is the number of a record that stands in the way: it is ended as
    this one begins, what was not read marked missing. `hands` are those it went through besides. Raises Unfit with all
    that is wrong, Asked, NotSigned, MovedOn, AlreadySaved, Busy.
    """
    sheet = sheet_of(kind)
    who_may_write(person)
    if second is not None:
        another_person(second, person)
    handed = Handed(sheet, values, rows, site, day, now, strict, sure, ends, hands.why_late, hands.unsigned)
    ahead = _read_ahead(handed, number, seen)
    with turn():
        # Taken in the turn, so that times run the way of the chain however long anybody waited.
        written_at = written_at or timezone.now()
        sendings.refuse_again(sent)
        if ending:
            _end_first(ending, handed, person=person, written_at=written_at)
        record = existing(sheet, number)
        if record is None:
            record = _open(handed, ahead, number, person=person, second=second, written_at=written_at, hands=hands)
        elif not _add_to(record, handed, ahead, seen, person=person, second=second, written_at=written_at, hands=hands):
            sendings.let_draft_go(sent)
            return record
        sendings.remember(sent, record)
    return record


def _add_to(
    record: Record,
    handed: Handed,
    ahead: Ahead[Any],
    seen: int | None,
    *,
    person: Person,
    second: Person | None,
    written_at: datetime,
    hands: Hands = ALONE,
) -> bool:
    """Adds to a record that is there; False where nothing new is said."""
    read: SheetOnRecord = ahead.in_turn(handed.added_to, record, seen)
    if not read.changed:
        return False
    version = versions.write(record, read.filled, person=person, written_at=written_at, hands=hands)
    settle(
        handed.sheet,
        record,
        read.filled,
        version,
        person=person,
        second=second,
        written_at=written_at,
        site=read.site,
    )
    return True


def _end_first(number: str, handed: Handed, *, person: Person, written_at: datetime) -> None:
    """Ends the record that stands in the way as the one that is handed over begins. Raises Unfit."""
    other, at = in_the_way(number), handed.begins()
    values = values_to_end(other, at)
    to_end = Handed(sheet_of(other.kind), values, (), None, None, handed.now, strict=False, sure=True, ends=None)
    try:
        _add_to(other, to_end, Ahead(), None, person=person, second=None, written_at=written_at)
    except Unfit as unfit:
        sentence = f"{number} cannot be ended from here: {unfit} Complete it on its own page."
        raise Unfit([Problem("", None, sentence)]) from unfit


def _read_ahead(handed: Handed, number: str | None, seen: int | None) -> Ahead[Any]:
    """What is handed over, read before the turn as it will probably be read there."""
    if goes_on():
        # Nobody else writes meanwhile, and that other piece of writing changes what is read.
        return Ahead()
    sheet = handed.sheet
    record = Record.objects.filter(kind=sheet.kind, number=number).first() if number else None
    if record is not None:
        return Ahead(handed.added_to, record, seen)
    return Ahead(handed.as_new, number or coming_number(sheet))


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
    hands: Hands = ALONE,
) -> Record:
    """Puts a record right: a new version with its reason, and in the books the opposite and the new entry.

    Fields left out keep what stands; rows left out keep theirs. Records whose figures were worked out from this one
    are posted anew with it. What a second person has signed waits for one again before it is posted. The rest as in
    `save`. Raises Unfit, Asked, NotSigned, MovedOn, AlreadySaved, Busy.
    """
    sheet = sheet_of(record.kind)
    who_may_write(person)
    if second is not None:
        another_person(second, person)
    need_reason(reason)
    handed = Handed(sheet, values, rows or (), site, day, now, False, sure, None, unsigned=hands.unsigned)
    ahead: Ahead[SheetOnRecord] = Ahead() if goes_on() else Ahead(handed.corrected, record, seen)
    with turn():
        # Taken in the turn, so that times run the way of the chain however long anybody waited.
        written_at = written_at or timezone.now()
        sendings.refuse_again(sent)
        record = Record.objects.select_for_update().get(pk=record.pk)
        not_void(record)
        read = ahead.in_turn(handed.corrected, record, seen)
        filled, posted, site = read.filled, read.posted, read.site
        if waits_for_another(sheet, record, filled, posted, second=second):
            drafts_of(filled)
            version = versions.write(record, filled, person=person, written_at=written_at, reason=reason, hands=hands)
            settle(sheet, record, filled, version, person=person, second=None, written_at=written_at, site=site)
        else:
            base = versions.typed_of(version_in_books(record))
            undecided = undecided_before(periods_of(record, filled), by=person) if second is None else None
            taken_down = TakenDown.of(sheet, record, base, filled, posted, site=site, undecided=undecided)
            version = versions.write(record, filled, person=person, written_at=written_at, reason=reason, hands=hands)
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
    hands: Hands = ALONE,
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
        counts = bool(standing_of(record)) or not sheet.declares
        waits = second is None and counts and signatures.newest(record) is not None
        if waits and signatures.asks_void(old):
            sentence = f"{old.person.shown_name} has asked for it already; a second person has to agree."
            raise Unfit([Problem("", None, sentence)])
        version = versions.write(record, filled, person=person, written_at=written_at, reason=reason, hands=hands)
        if waits:
            signatures.sign(record, version, signatures.VOID_ASKED, person=person, at=written_at)
            record.state, record.second = State.WAITING, None
            record.save(update_fields=["state", "second"])
            return record
        return take_out(sheet, record, version, person=person, second=second, written_at=written_at, site=site)


def _open(
    handed: Handed,
    ahead: Ahead[Any],
    number: str | None,
    *,
    person: Person,
    second: Person | None,
    written_at: datetime,
    hands: Hands,
) -> Record:
    sheet = handed.sheet
    if number and len(number) > LONGEST_NUMBER:
        sentence = f"{number} is {len(number)} characters long; a number has at most {LONGEST_NUMBER}."
        raise Unfit([Problem(sheet.number_column, None, sentence)])
    enter_new_casks(sheet, handed.rows, handed.site or Site(), sure=handed.sure)
    taken = number or next_number(sheet)
    read: NewSheet = ahead.in_turn(handed.as_new, taken)
    filled, site = read.filled, read.site
    if number:
        note_number(sheet, number)
    record = Record(kind=sheet.kind, number=taken, opened_by=person, opened_at=written_at)
    stand(sheet, record, filled, second=second, waits=sheet.asks_second(filled.typed) and second is None)
    add_one(record)
    version = versions.write(record, filled, person=person, written_at=written_at, serial=1, hands=hands)
    settle(sheet, record, filled, version, person=person, second=second, written_at=written_at, site=site, fresh=True)
    return record
