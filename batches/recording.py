"""The one way a record is opened, added to, corrected, countersigned or made void.

A record may be saved in several goes, the charge first and the finish later; each saving adds a version and posts
every moment that has become complete. What is in the books is changed only by a correction with its reason: the
exact opposite, the new entry in its place, and whatever was worked out from it anew. One transaction each, in its
turn (ledger/turns.py) and tried again while the database is busy; where anything is wrong nothing is written.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime

from django.utils import timezone

from batches import dependents, links, sendings, versions
from batches.asking import Asked, Sure, ask_about_times
from batches.filling import Filled, Unfit, read_sheet
from batches.models import Mention, Record, State, Version
from batches.numbers import next_number, note_number
from batches.posting import Standing, drafts_of, post_moments, repost, standing_of
from batches.readings import add_reading, strike_reading
from batches.sendings import AlreadySaved, SentForm
from batches.sheet import Problem, Sheet
from batches.site import Site
from batches.steps import sheet_of
from distillery.clock.reading import books_now
from distillery.people.models import Person
from distillery.people.roles import may_write
from distillery.retrying import Busy, retried
from ledger.enquiries.raising import raise_for
from ledger.turns import turn

__all__ = [
    "AlreadySaved", "Asked", "Busy", "MovedOn", "Unfit", "add_reading", "correct", "countersign", "save",
    "strike_reading", "void",
]  # fmt: skip

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
                sheet, number, values, rows, person=person, second=second, written_at=written_at, site=site,
                day=day, now=now or books_now(), strict=strict, sure=sure,
            )  # fmt: skip
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
    are posted anew with it. The rest as in `save`. Raises Unfit, Asked, MovedOn, AlreadySaved, Busy.
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
        affected = dependents.of_correction(sheet, record, (old_typed, old_rows), filled, site=site)
        since = links.last_movement()
        was = drafts_of(read_sheet(sheet, old_typed, old_rows, site=site, number=record.number))
        version = versions.write(record, filled, person=person, written_at=written_at, reason=reason)
        repost(
            sheet, record, version, posted, was, drafts_of(filled), person=person, second=second,
            reason=reason, written_at=written_at,
        )  # fmt: skip
        _settle(
            sheet, record, filled, version, person=person, second=second, written_at=written_at, site=site,
            affected=affected, since=since,
        )  # fmt: skip
        sendings.remember(sent, record)
    return record


@retried
def countersign(record: Record, second: Person, *, written_at: datetime | None = None) -> Record:
    """Agrees to a record that waits for a second person, and posts it. Raises Unfit, Busy."""
    sheet, site = sheet_of(record.kind), Site()
    with turn():
        record = Record.objects.select_for_update().get(pk=record.pk)
        if record.state != State.WAITING:
            raise Unfit([Problem("", None, f"{record.number} is not waiting for a second person.")])
        version = versions.newest(record)
        _second_person(second, version.person)
        typed, lines = versions.typed_of(version)
        filled = read_sheet(sheet, typed, lines, site=site, number=record.number).require()
        _settle(
            sheet, record, filled, version, person=version.person, second=second,
            written_at=written_at or timezone.now(), site=site,
        )  # fmt: skip
    return record


@retried
def void(record: Record, *, person: Person, reason: str, written_at: datetime | None = None) -> Record:
    """Takes a record out of the books again; its number and all that stood on it remain. Raises Unfit, Busy."""
    sheet, site = sheet_of(record.kind), Site()
    _may_write(person)
    _need_reason(reason)
    with turn():
        # Taken in the turn, so that times run the way of the chain however long anybody waited.
        written_at = written_at or timezone.now()
        record = Record.objects.select_for_update().get(pk=record.pk)
        _not_void(record)
        naming = (
            Mention.objects.filter(what=Mention.What.RECORD, code=record.number)
            .exclude(record__state=State.VOID)
            .values_list("record__number", flat=True)
            .distinct()
        )
        if naming:
            raise Unfit([Problem("", None, f"{record.number} is named by {', '.join(naming)}; correct those first.")])
        typed, lines = versions.typed_of(versions.newest(record))
        filled = read_sheet(sheet, typed, lines, site=site, number=record.number)
        affected = dependents.of_correction(sheet, record, (typed, lines), filled, site=site)
        since = links.last_movement()
        version = versions.write(record, filled, person=person, written_at=written_at, reason=reason)
        posted = standing_of(record)
        repost(
            sheet, record, version, posted, drafts_of(filled), {}, person=person, second=None,
            reason=reason, written_at=written_at,
        )  # fmt: skip
        record.state, record.identity = State.VOID, ""
        record.save(update_fields=["state", "identity"])
        links.link_materials(record)
        dependents.post_anew(affected, because=record, person=person, reason=reason, written_at=written_at)
        links.follow(since)
        raise_for(since, plant=site, corrected=record.number)
    return record


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
    _settle(
        sheet, record, filled, version, person=person, second=second, written_at=written_at, site=site, fresh=True
    )
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
) -> None:
    """Everything that follows from a new version: state, mentions, postings, plant, links, dependents."""
    there = {} if fresh else standing_of(record)
    waits = sheet.second_person and second is None and not there
    first = since if since is not None else links.last_movement()
    if affected is None:
        affected = dependents.of_late_entry(sheet, filled, record, site=site)
    versions.mention(record, filled, fresh=fresh)
    if not waits:
        post_moments(
            sheet, record, version, filled, there, person=person, second=second, written_at=written_at
        )
        if filled.claimed and sheet.keep is not None:
            sheet.keep(filled.completed)
    if not fresh:
        _stand(sheet, record, filled, second=second, waits=waits)
        record.save()
    grist = filled.completed.decimal("grist_kg") if sheet.has_field("grist_kg") else None
    links.link_materials(record, grist_g=int(grist * 1000) if grist is not None else 0)
    if affected:
        dependents.post_anew(
            affected, because=record, person=person, reason=version.reason, written_at=written_at
        )
    links.follow(first)
    raise_for(first, plant=site, corrected=record.number if version.reason else "")


def _stand(sheet: Sheet, record: Record, filled: Filled, *, second: Person | None, waits: bool) -> None:
    """Where the record stands now: its state, its times, and what tells it from others."""
    done = len(filled.claimed) == len(sheet.moments)
    record.state = State.WAITING if waits else State.COMPLETE if done else State.OPEN
    record.second = second if second is not None else record.second
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
        raise Unfit(
            [Problem(sheet.number_column, None, f"{number} is the number of a {kind}; take another.")]
        )
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
    if old[1] != new[1] and sheet.rows is not None and any(
        sheet.rows_belong_to(sheet.moment(name)) for name in posted
    ):
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


def _need_reason(reason: str) -> None:
    if not reason.strip():
        raise Unfit([Problem("reason", None, "Reason is blank; say why, it is kept beside both figures.")])


def _not_void(record: Record) -> None:
    if record.state == State.VOID:
        raise Unfit([Problem("", None, f"{record.number} is void; open a new record instead.")])
