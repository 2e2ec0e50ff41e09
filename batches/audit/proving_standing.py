"""Proves what is only worked out from a record: its state and times, what tells it apart, what it names, the series.

Each is asked again of the facts: the versions, whose digests are proved elsewhere, and the postings. Only the fields
that say when, and those that name a vessel, a record or a lot, are read; no gauge is worked out. Memory holds some
hundred records at a time, whose vessels are looked up together, and the vessels of the site.
"""

from __future__ import annotations

import json
import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import islice
from typing import Any, Final, NamedTuple, TypeVar

from django.db.models import Max, QuerySet

from batches.models import Mention, Posted, Record, Series, Signature, State, Version
from batches.records.versions import Typed, identity_of
from batches.sheets.sheet import Field, Kind, Sheet
from batches.sheets.site import Site
from batches.sheets.typed.read_sheet import read_fields
from batches.steps import sheet_of
from batches.tracing.materials import unlinked_materials
from distillery.database.rows_as_kept import MomentText, rows_of
from distillery.hashing import moment_text, utc

CHUNK = 500
_DIGITS = re.compile("[0-9]{1,15}")
_Row = TypeVar("_Row", bound=tuple[Any, ...])

_OF_RECORD: Final = (
    *("pk", "kind", "number", "state", "identity", "opened_by_id"),
    *(MomentText("opened_at"), MomentText("happened_from"), MomentText("happened_to")),
)
_OF_VERSION: Final = ("record_id", "pk", "serial", "values", "rows", "reason", "person_id", MomentText("written_at"))


def prove_standing() -> Iterator[str]:
    """One sentence for each record that does not stand as its versions and postings say, and each series behind."""
    yield from standing_apart(Record.objects.all())
    yield from unlinked_materials()


def standing_apart(chosen: QuerySet[Record]) -> Iterator[str]:
    """The same of some records, and the series behind these."""
    site = Site()
    reached: dict[str, int] = defaultdict(int)
    records = (_Record(*row) for row in rows_of(chosen.order_by("pk"), *_OF_RECORD))
    while together := list(islice(records, CHUNK)):
        shown = _shown(together)
        site.look_up(code for one in shown for code in one.vessels())
        for one in shown:
            yield from _opened(one)
            yield from _times(one, site)
            yield from _state(one)
            yield from _mentions(one, site)
            prefix, number = one.sheet.prefix, one.record.number
            if number.startswith(prefix) and _DIGITS.fullmatch(number, len(prefix)):
                reached[prefix] = max(reached[prefix], int(number[len(prefix) :]))
    yield from _series(reached)


class _Record(NamedTuple):
    """A record as it is kept; moments as text."""

    pk: int
    kind: str
    number: str
    state: str
    identity: str
    opened_by_id: int
    opened_at: str
    happened_from: str
    happened_to: str | None


class _Version(NamedTuple):
    """What stands on a record after a saving, as it is kept; the moment as text."""

    record_id: int
    pk: int
    serial: int
    values: str
    rows: str
    reason: str
    person_id: int
    written_at: str

    def typed(self) -> tuple[Typed, list[Typed]]:
        """Single fields and repeating lines."""
        return json.loads(self.values), json.loads(self.rows)


class _Posted(NamedTuple):
    """Of what a version posted and stands."""

    record_id: int
    version_id: int
    moment: str


class _Mention(NamedTuple):
    """What a record is found by."""

    record_id: int
    field: str
    what: str
    code: str


class _Signature(NamedTuple):
    """What a second person did about a version."""

    record_id: int
    what: str
    version_id: int


@dataclass(frozen=True, slots=True)
class _Shown:
    """A record with all that hangs on it, and what was typed on the version that the books hold."""

    record: _Record
    sheet: Sheet
    versions: list[_Version]
    in_books: set[str]
    mentions: list[_Mention]
    agreed: _Signature | None
    pending: bool
    typed: Typed
    rows: list[Typed]

    def vessels(self) -> Iterator[str]:
        """The codes that stand in boxes for a vessel."""
        for fields, lines in ((self.sheet.fields, [self.typed]), (self.sheet.row_fields, self.rows)):
            for one in fields:
                if one.kind == Kind.VESSEL:
                    yield from (line[one.name] for line in lines if line.get(one.name))


def _shown(records: Sequence[_Record]) -> list[_Shown]:
    """The records that have a version, each with what hangs on it: a few queries for all of them."""
    keys = [record.pk for record in records]
    # A version is short; the longest history of a record holds some dozens.
    in_order = Version.objects.filter(record__in=keys).order_by("serial")
    versions = _of_each(_Version(*row) for row in rows_of(in_order, *_OF_VERSION))
    standing = Posted.objects.standing().filter(record__in=keys)
    posted = _of_each(_Posted(*row) for row in rows_of(standing, *_Posted._fields))
    named = Mention.objects.filter(record__in=keys)
    mentions = _of_each(_Mention(*row) for row in rows_of(named, *_Mention._fields))
    signed = Signature.objects.filter(record__in=keys).order_by("pk")
    signatures = _of_each(_Signature(*row) for row in rows_of(signed, *_Signature._fields))
    shown = []
    for record in records:
        own = versions[record.pk]
        if not own:
            continue
        agreed = next((one for one in reversed(signatures[record.pk]) if one.what == Signature.What.AGREED), None)
        by = {one.version_id for one in posted[record.pk]}
        if not sheet_of(record.kind).declares:
            # What posts no movement stands by what a second person has signed.
            by = {one.version_id for one in signatures[record.pk] if one.what == Signature.What.AGREED}
        pending = _pending(own, by, signatures[record.pk]) if agreed is not None else None
        typed, rows = (pending or own[-1]).typed()
        in_books = {one.moment for one in posted[record.pk]}
        sheet = sheet_of(record.kind)
        shown.append(
            _Shown(record, sheet, own, in_books, mentions[record.pk], agreed, pending is not None, typed, rows)
        )
    return shown


def _of_each(rows: Iterable[_Row]) -> dict[int, list[_Row]]:
    """Rows by the record that they hang on, whose key is the first of each."""
    found: dict[int, list[_Row]] = defaultdict(list)
    for row in rows:
        found[row[0]].append(row)
    return found


def _opened(one: _Shown) -> Iterator[str]:
    record, first = one.record, one.versions[0]
    if (record.opened_by_id, record.opened_at) != (first.person_id, first.written_at):
        yield f"{record.number}: who opened it and when is not what its first version says"


def _times(one: _Shown, site: Site) -> Iterator[str]:
    record, sheet, typed = one.record, one.sheet, one.typed
    claimed = [one for one in sheet.moments if typed.get(one.when)]
    first, last = sheet.moments[0].when, claimed[-1].when if claimed else sheet.moments[-1].when
    said = read_fields(sheet, typed, list(dict.fromkeys([first, last, *sheet.identity])), site=site)
    ended = said.get(last) if sheet.is_done(claimed, typed) else None
    kept = [None if at is None else moment_text(at) for at in (record.happened_from, record.happened_to)]
    if kept != [utc(at) if isinstance(at, datetime) else at for at in (said.get(first), ended)]:
        yield f"{record.number}: when it happened is not what stands on its newest version"
    identity = "" if record.state == State.VOID else identity_of(sheet, said)
    if record.identity != identity:
        yield f"{record.number}: what tells it from others of its kind is not what stands on its newest version"


def _pending(versions: list[_Version], posted: set[int], signatures: list[_Signature]) -> _Version | None:
    """The version that the books hold while a later one waits for a second person; None where none waits."""
    held = next((one for one in reversed(versions) if one.pk in posted), None)
    newest = versions[-1]
    if held is None or newest.serial <= held.serial:
        return None
    asks_void = any(one.what == Signature.What.VOID_ASKED and one.version_id == newest.pk for one in signatures)
    return held if asks_void or held.typed() != newest.typed() else None


def _state(one: _Shown) -> Iterator[str]:
    record, sheet, in_books = one.record, one.sheet, one.in_books
    claimed = [moment for moment in sheet.moments if one.typed.get(moment.when)]
    due = {moment.name for moment in claimed if moment.posts(one.typed)}
    waits = sheet.asks_second(one.typed) and one.agreed is None and not in_books
    # What is in the books comes out of them only when the record is made void.
    void = not in_books if due and not waits else _took_itself_back(one.versions)
    if not due and one.agreed is not None:
        # What a second person has signed is made void by two: the newest version has to be agreed to as well.
        void = void and one.agreed.version_id == one.versions[-1].pk
    if void:
        state = State.VOID
    elif waits or one.pending:
        state = State.WAITING
    else:
        state = State.COMPLETE if sheet.is_done(claimed, one.typed) else State.OPEN
    if record.state != state:
        yield f"{record.number}: it is kept as '{record.state}', but its versions and postings make it '{state}'"
    elif not void and not waits and due - in_books:
        yield f"{record.number}: {', '.join(sorted(due - in_books))} is written on it and not in the books"


def _took_itself_back(versions: list[_Version]) -> bool:
    """True where the newest version says nothing new and why: of a record that posts nothing, so it was made void."""
    if len(versions) < 2 or not versions[-1].reason:
        return False
    before, newest = versions[-2:]
    return (before.values, before.rows) == (newest.values, newest.rows)


def _mentions(shown: _Shown, site: Site) -> Iterator[str]:
    sheet = shown.sheet
    kept = Counter((one.field, one.what, one.code) for one in shown.mentions)
    named = {
        (one.name, what, code)
        for fields, lines in ((sheet.fields, [shown.typed]), (sheet.row_fields, shown.rows))
        for one in fields
        for line in lines
        if line.get(one.name)
        for what, code in [_named(one, line[one.name].strip(), site, kept)]
        if what
    }
    if kept != Counter(named):
        yield f"{shown.record.number}: the vessels, records and lots it is found by are not those on its newest version"


def _named(one: Field, text: str, site: Site, kept: Counter[tuple[str, str, str]]) -> tuple[str, str]:
    if one.kind == Kind.VESSEL:
        vessel = site.vessel(text)
        return (Mention.What.VESSEL, vessel.code) if vessel is not None else ("", "")
    if one.kind == Kind.RECORD:
        # Most numbers are written as they are kept; only others have to be looked up.
        if (one.name, Mention.What.RECORD, text) in kept:
            return Mention.What.RECORD, text
        other = site.record(one.record_kind, text)
        return (Mention.What.RECORD, other.number) if other is not None else ("", "")
    if one.kind == Kind.TEXT:
        return (Mention.What.LOT if one.lot else one.found_as), text
    return "", ""


def _series(reached: dict[str, int]) -> Iterator[str]:
    last = dict(Series.objects.values_list("prefix").annotate(Max("last")))
    for prefix, number in sorted(reached.items()):
        if last.get(prefix, 0) < number:
            yield f"the series {prefix} is kept as if {last.get(prefix, 0)} were its last number, and {number} is given"
