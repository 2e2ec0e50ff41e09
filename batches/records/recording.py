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
from dataclasses import dataclass
from datetime import date, datetime

from django.utils import timezone

from batches.models import Mention, Record, State, Version
from batches.records import dependents, signatures, versions
from batches.records import submit_once as sendings
from batches.records.asking import Asked, Sure, ask_about_times
from batches.records.numbers import next_number, note_number
from batches.records.posting import Standing, drafts_of, post_moments, repost, standing_of
from batches.records.readings import add_reading, strike_reading
from batches.records.submit_once import AlreadySaved, SentForm
from batches.sheets.read_sheet import Filled, Unfit, read_sheet
from batches.sheets.sheet import Problem, Sheet
from batches.sheets.site import Site
from batches.standing import version_in_books
from batches.steps import sheet_of
from batches.tracing import links
from batches.tracing.materials import link_materials
from distillery.clock.reading import books_now
from distillery.people.models import Person
from distillery.people.roles import may_write
from distillery.retrying import Busy, retried
from ledger.enquiries.models import Enquiry
from ledger.enquiries.raising import Undecided, raise_for, undecided_before
from ledger.periods import period_of
from ledger.posting.drafts import Draft
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


class MovedOn(Exception):
    """Somebody wrote on the record after the version a page was opened with; nothing was written."""

    def __init__(self, record: Record, latest: Version) -> None:
        super().__init__(f"{record.number} stands at version {latest.serial} by now.")
        self.record = record
        self.latest = latest


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
) -> Record:
    """Opens a record, or adds to the one with that number, and posts each moment that is complete.

    Fields left out keep what stands; a field given blank is cleared. `seen` is the version the writer had before them,
    `sent` the form it was written on. `day` is the day of a bare time, `now` what the books' clock says. `sure` names
    the questions about times that are answered, or says that all are. Raises Unfit with all that is wrong, Asked,
    MovedOn, AlreadySaved, Busy.
    """
    sheet, site = sheet_of(kind), site or Site()
    _may_write(person)
    if second is not None:
        _second_person(second, person)
    with turn():
        # Taken in the turn, so that times run the way of the chain however long anybody waited.
        written_at = written_at or timezone.now()
        sendings.refuse_again(sent)
        record = _existing(sheet, number)
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
            )
            sendings.remember(sent, record)
            return record
        old = versions.newest(record)
        _as_seen(record, old, seen)
        old_typed, old_rows = versions.typed_of(old)
        typed, lines = versions.merged(old_typed, old_rows, values, rows)
        posted = standing_of(record)
        _leave_posted_alone(sheet, record, posted, (old_typed, old_rows), (typed, lines))
        now = now or books_now()
        filled = read_sheet(
            sheet, typed, lines, site=site, number=record.number, day=day, now=now, strict=strict
        ).require()
        if (filled.typed, filled.rows) == (old_typed, old_rows):
            return record
        ask_about_times(filled, now=now, sure=sure, before=(old_typed, old_rows))
        version = versions.write(record, filled, person=person, written_at=written_at)
        _settle(sheet, record, filled, version, person=person, second=second, written_at=written_at, site=site)
        sendings.remember(sent, record)
    return record


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
    _may_write(person)
    if second is not None:
        _second_person(second, person)
    _need_reason(reason)
    with turn():
        # Taken in the turn, so that times run the way of the chain however long anybody waited.
        written_at = written_at or timezone.now()
        sendings.refuse_again(sent)
        record = Record.objects.select_for_update().get(pk=record.pk)
        _not_void(record)
        old = versions.newest(record)
        _as_seen(record, old, seen)
        old_typed, old_rows = versions.typed_of(old)
        typed, lines = versions.merged(old_typed, old_rows, values, old_rows if rows is None else rows)
        now = now or books_now()
        filled = read_sheet(sheet, typed, lines, site=site, number=record.number, day=day, now=now).require()
        if (filled.typed, filled.rows) == (old_typed, old_rows):
            raise Unfit([Problem("", None, f"Nothing is different from what stands on {record.number}.")])
        ask_about_times(filled, now=now, sure=sure, before=(old_typed, old_rows))
        posted = standing_of(record)
        _keep_posted_moments(sheet, record, filled, posted)
        if _waits(sheet, record, filled, posted, second=second):
            drafts_of(filled)
            version = versions.write(record, filled, person=person, written_at=written_at, reason=reason)
            _settle(sheet, record, filled, version, person=person, second=None, written_at=written_at, site=site)
        else:
            base = versions.typed_of(version_in_books(record))
            undecided = undecided_before(_periods(record, filled), by=person) if second is None else None
            taken_down = _TakenDown.of(sheet, record, base, filled, posted, site=site, undecided=undecided)
            version = versions.write(record, filled, person=person, written_at=written_at, reason=reason)
            taken_down.post_again(version, person=person, second=second, written_at=written_at)
        sendings.remember(sent, record)
    return record


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
        _second_person(second, version.person)
        if seen is not None and seen != version.digest:
            raise MovedOn(record, version)
        if signatures.asks_void(version):
            return _take_out(
                sheet, record, version, person=version.person, second=second, written_at=written_at, site=site
            )
        if not waits:
            record.second = second
            record.save(update_fields=["second"])
            signatures.sign(record, version, signatures.AGREED, person=second, at=written_at)
            return record
        typed, lines = versions.typed_of(version)
        filled = read_sheet(sheet, typed, lines, site=site, number=record.number).require()
        posted = standing_of(record)
        if posted:
            base = versions.typed_of(version_in_books(record))
            taken_down = _TakenDown.of(sheet, record, base, filled, posted, site=site)
            taken_down.post_again(version, person=version.person, second=second, written_at=written_at)
        else:
            _settle(
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
    _may_write(person)
    _need_reason(reason)
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
        _stand(sheet, record, filled, second=signature.person, waits=False)
        record.save()
    return record


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
    _may_write(person)
    if second is not None:
        _second_person(second, person)
    _need_reason(reason)
    with turn():
        written_at = written_at or timezone.now()
        record = Record.objects.select_for_update().get(pk=record.pk)
        _not_void(record)
        _named_by_none(record)
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
        return _take_out(sheet, record, version, person=person, second=second, written_at=written_at, site=site)


def _take_out(
    sheet: Sheet,
    record: Record,
    version: Version,
    *,
    person: Person,
    second: Person | None,
    written_at: datetime,
    site: Site,
) -> Record:
    """Takes back all that a record has posted, as its newest version asks."""
    _named_by_none(record)
    typed, lines = versions.typed_of(version_in_books(record))
    filled = read_sheet(sheet, typed, lines, site=site, number=record.number)
    affected = dependents.of_correction(sheet, record, (typed, lines), filled, site=site)
    since = links.last_movement()
    undecided = undecided_before(_periods(record), by=person) if second is None else None
    repost(
        sheet,
        record,
        version,
        standing_of(record),
        drafts_of(filled),
        {},
        person=person,
        second=second,
        reason=version.reason,
        written_at=written_at,
    )
    record.state, record.identity, record.second = State.VOID, "", second
    record.save(update_fields=["state", "identity", "second"])
    if second is not None:
        signatures.sign(record, version, signatures.AGREED, person=second, at=written_at)
    link_materials(record, typed)
    dependents.post_anew(affected, because=record, person=person, reason=version.reason, written_at=written_at)
    links.follow(since)
    raise_for(since, plant=site, corrected=record.number, undecided=undecided)
    return record


def _periods(record: Record, filled: Filled | None = None) -> set[str]:
    """The months in which a record happened, and in which it is said to have happened now."""
    times = [record.happened_from, record.happened_to]
    if filled is not None:
        times += [filled.completed.moment(moment.when) for moment in filled.claimed]
    about = Enquiry.objects.filter(record_kind=record.kind, record_number=record.number)
    return {period_of(at) for at in times if at is not None} | set(about.values_list("period", flat=True))


@dataclass(frozen=True, slots=True)
class _TakenDown:
    """A record that is to be posted in place of what it posted, with all that hangs on it, as it was before."""

    sheet: Sheet
    record: Record
    filled: Filled
    posted: Mapping[str, Standing]
    was: Mapping[str, Draft]
    affected: list[dependents.Affected]
    since: int
    site: Site
    undecided: Undecided | None

    @classmethod
    def of(
        cls,
        sheet: Sheet,
        record: Record,
        base: tuple[dict[str, str], list[dict[str, str]]],
        filled: Filled,
        posted: Mapping[str, Standing],
        *,
        site: Site,
        undecided: Undecided | None = None,
    ) -> _TakenDown:
        """`base` is what the books hold of the record, as typed; `filled` what is to stand there."""
        affected = dependents.of_correction(sheet, record, base, filled, site=site)
        since = links.last_movement()
        was = drafts_of(read_sheet(sheet, *base, site=site, number=record.number))
        return cls(sheet, record, filled, posted, was, affected, since, site, undecided)

    def post_again(self, version: Version, *, person: Person, second: Person | None, written_at: datetime) -> None:
        """Posts what the version says, and everything that follows from it."""
        repost(
            self.sheet,
            self.record,
            version,
            self.posted,
            self.was,
            drafts_of(self.filled),
            person=person,
            second=second,
            reason=version.reason,
            written_at=written_at,
        )
        _settle(
            self.sheet,
            self.record,
            self.filled,
            version,
            person=person,
            second=second,
            written_at=written_at,
            site=self.site,
            affected=self.affected,
            since=self.since,
            agreed=True,
            undecided=self.undecided,
        )


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
) -> Record:
    if number and len(number) > LONGEST_NUMBER:
        sentence = f"{number} is {len(number)} characters long; a number has at most {LONGEST_NUMBER}."
        raise Unfit([Problem(sheet.number_column, None, sentence)])
    taken = number or next_number(sheet)
    filled = read_sheet(sheet, values, rows, site=site, number=taken, day=day, now=now, strict=strict).require()
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
    _stand(sheet, record, filled, second=second, waits=sheet.second_person and second is None)
    record.save(force_insert=True)
    version = versions.write(record, filled, person=person, written_at=written_at, serial=1)
    _settle(sheet, record, filled, version, person=person, second=second, written_at=written_at, site=site, fresh=True)
    return record


def _settle(
    sheet: Sheet,
    record: Record,
    filled: Filled,
    version: Version,
    *,
    person: Person,
    second: Person | None,
    written_at: datetime,
    site: Site,
    affected: list[dependents.Affected] | None = None,
    since: int | None = None,
    fresh: bool = False,
    agreed: bool = False,
    undecided: Undecided | None = None,
) -> None:
    """Everything that follows from a new version: state, mentions, postings, plant, links, dependents.

    `agreed` says that it has been decided already that the version counts.
    """
    there = {} if fresh else standing_of(record)
    if not fresh:
        _said_by_no_other(sheet, record, filled)
    waits = not agreed and _waits(sheet, record, filled, there, second=second, fresh=fresh)
    if waits and there:
        # What was signed stays in the books, and the record stands there as it was, until somebody agrees.
        record.state, record.second = State.WAITING, None
        record.save(update_fields=["state", "second"])
        return
    first = since if since is not None else links.last_movement()
    if affected is None:
        affected = dependents.of_late_entry(sheet, filled, record, site=site)
    versions.mention(record, filled, fresh=fresh)
    if not waits:
        post_moments(sheet, record, version, filled, there, person=person, second=second, written_at=written_at)
        if filled.claimed and sheet.keep is not None:
            sheet.keep(filled.completed)
    if not fresh:
        _stand(sheet, record, filled, second=_signed_by(record, version, second), waits=waits)
        record.save()
    if second is not None:
        signatures.sign(record, version, signatures.AGREED, person=second, at=written_at)
    link_materials(record, filled.typed)
    if affected:
        dependents.post_anew(affected, because=record, person=person, reason=version.reason, written_at=written_at)
    links.follow(first)
    raise_for(first, plant=site, corrected=record.number if version.reason else "", undecided=undecided)


def _waits(
    sheet: Sheet,
    record: Record,
    filled: Filled,
    posted: Mapping[str, Standing],
    *,
    second: Person | None,
    fresh: bool = False,
) -> bool:
    """True where what is typed counts only once a second person has agreed to it."""
    if second is not None:
        return False
    return (sheet.second_person and not posted) or (not fresh and signatures.differs_from_signed(record, filled))


def _signed_by(record: Record, version: Version, second: Person | None) -> Person | None:
    """Who has signed what stands now: the second person of this version, or of the one it goes back to."""
    if second is not None or signatures.changed_since(record, version) is not None:
        return second
    signature = signatures.newest(record)
    return signature.person if signature is not None else None


def _stand(sheet: Sheet, record: Record, filled: Filled, *, second: Person | None, waits: bool) -> None:
    """Where the record stands now: its state, its times, and what tells it from others."""
    done = len(filled.claimed) == len(sheet.moments)
    record.state = State.WAITING if waits else State.COMPLETE if done else State.OPEN
    record.second = None if waits else second
    record.happened_from = filled.completed.moment(sheet.moments[0].when)
    record.happened_to = filled.completed.moment(sheet.moments[-1].when) if done else None
    record.identity = versions.identity_of(sheet, filled.completed.values)


# -- what is refused before anything is read


def _existing(sheet: Sheet, number: str | None) -> Record | None:
    if not number:
        return None
    record = Record.objects.select_for_update().filter(number=number).first()
    if record is not None and record.kind != sheet.kind:
        kind = sheet_of(record.kind).title.lower()
        raise Unfit([Problem(sheet.number_column, None, f"{number} is the number of a {kind}; take another.")])
    if record is not None:
        _not_void(record)
    return record


def _as_seen(record: Record, latest: Version, seen: int | None) -> None:
    if seen is not None and seen != latest.serial:
        raise MovedOn(record, latest)


def _leave_posted_alone(
    sheet: Sheet,
    record: Record,
    posted: Mapping[str, Standing],
    old: tuple[dict[str, str], list[dict[str, str]]],
    new: tuple[dict[str, str], list[dict[str, str]]],
) -> None:
    """What is in the books is changed by a correction with its reason, not by saving over it."""
    problems = []
    for one in sheet.fields:
        was, now = old[0].get(one.name, ""), new[0].get(one.name, "")
        if was and was != now and sheet.moment_of(one.name).name in posted:
            problems.append(
                Problem(
                    one.name,
                    None,
                    f"{one.label} of {record.number} is in the books as {was}; correct it on its page, with a reason.",
                )
            )
    if old[1] != new[1] and sheet.rows is not None and any(sheet.rows_belong_to(sheet.moment(name)) for name in posted):
        problems.append(
            Problem(sheet.rows.each, None, f"The lines of {record.number} are in the books; correct them on its page.")
        )
    if problems:
        raise Unfit(problems)


def _keep_posted_moments(sheet: Sheet, record: Record, filled: Filled, posted: Mapping[str, Standing]) -> None:
    claimed = {moment.name for moment in filled.claimed}
    gone = [sheet.moment(name) for name in posted if name not in claimed]
    if gone:
        raise Unfit(
            [
                Problem(
                    moment.when,
                    None,
                    f"The {moment.label.lower()} of {record.number} is in the books, so its time cannot be left blank; "
                    "void the record if it never happened.",
                )
                for moment in gone
            ]
        )


def _may_write(person: Person) -> None:
    if not may_write(person):
        raise Unfit([Problem("person", None, f"{person.shown_name} may read but not write; ask someone on shift.")])


def _second_person(second: Person, person: Person) -> None:
    if second.pk == person.pk:
        raise Unfit(
            [Problem("second", None, f"{second.shown_name} took the readings; someone else has to agree to them.")]
        )
    if not may_write(second):
        raise Unfit([Problem("second", None, f"{second.shown_name} may not write, so cannot agree to an entry.")])


def _said_by_no_other(sheet: Sheet, record: Record | None, filled: Filled) -> None:
    identity = versions.identity_of(sheet, filled.completed.values)
    others = Record.objects.filter(kind=sheet.kind, identity=identity) if identity else Record.objects.none()
    other = others.first()
    if other is not None and other != record:
        sentence = f"{other.number} says this already; correct it on its page."
        raise Unfit([Problem(sheet.identity[0], None, sentence)])


def _named_by_none(record: Record) -> None:
    naming = (
        Mention.objects.filter(what=Mention.What.RECORD, code=record.number)
        .exclude(record__state=State.VOID)
        .values_list("record__number", flat=True)
        .distinct()
    )
    if naming:
        raise Unfit([Problem("", None, f"{record.number} is named by {', '.join(naming)}; correct those first.")])


def _need_reason(reason: str) -> None:
    if not reason.strip():
        raise Unfit([Problem("reason", None, "Reason is blank; say why, it is kept beside both figures.")])


def _not_void(record: Record) -> None:
    if record.state == State.VOID:
        raise Unfit([Problem("", None, f"{record.number} is void; open a new record instead.")])
