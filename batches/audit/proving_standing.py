"""Proves what is only worked out from a record: its state and times, what tells it apart, what it names, the series.

Each is asked again of the facts: the versions, whose digests are proved elsewhere, and the postings. Only the fields
that say when, and those that name a vessel, a record or a lot, are read; no gauge is worked out. Memory holds one
record at a time, and the vessels of the site.
"""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Iterator

from django.db.models import Max, Prefetch, QuerySet

from batches.models import Mention, Posted, Record, Series, Signature, State, Version
from batches.records.versions import Typed, identity_of, typed_of
from batches.sheets.read_sheet import read_fields
from batches.sheets.sheet import Field, Kind, Sheet
from batches.sheets.site import Site
from batches.steps import sheet_of
from batches.tracing.materials import unlinked_materials

CHUNK = 500


def prove_standing() -> Iterator[str]:
    """One sentence for each record that does not stand as its versions and postings say, and each series behind."""
    yield from standing_apart(Record.objects.all())
    yield from unlinked_materials()


def standing_apart(chosen: QuerySet[Record]) -> Iterator[str]:
    """The same of some records, and the series behind these."""
    site = Site()
    reached: dict[str, int] = defaultdict(int)
    standing = Posted.objects.standing()
    # A version is short; the longest history of a record holds some dozens.
    records = chosen.order_by("pk").prefetch_related(
        Prefetch("versions", Version.objects.order_by("serial")),
        Prefetch("postings", standing, to_attr="standing"),
        "mentions",
        "signatures",
    )
    for record in records.iterator(chunk_size=CHUNK):
        versions = list(record.versions.all())
        if not versions:
            continue
        sheet = sheet_of(record.kind)
        in_books = {one.moment for one in record.standing}
        pending = _pending(record, versions, {one.version_id for one in record.standing})
        typed, rows = typed_of(pending or versions[-1])
        yield from _opened(record, versions[0])
        yield from _times(record, sheet, typed, site)
        yield from _state(record, sheet, versions, typed, in_books, pending=pending is not None)
        yield from _mentions(record, sheet, typed, rows, site)
        number = re.fullmatch(rf"{re.escape(sheet.prefix)}([0-9]{{1,15}})", record.number)
        if number is not None:
            reached[sheet.prefix] = max(reached[sheet.prefix], int(number[1]))
    yield from _series(reached)


def _opened(record: Record, first: Version) -> Iterator[str]:
    if (record.opened_by_id, record.opened_at) != (first.person_id, first.written_at):
        yield f"{record.number}: who opened it and when is not what its first version says"


def _times(record: Record, sheet: Sheet, typed: Typed, site: Site) -> Iterator[str]:
    first, last = sheet.moments[0].when, sheet.moments[-1].when
    said = read_fields(sheet, typed, list(dict.fromkeys([first, last, *sheet.identity])), site=site)
    ended = said.get(last) if all(typed.get(moment.when) for moment in sheet.moments) else None
    if (record.happened_from, record.happened_to) != (said.get(first), ended):
        yield f"{record.number}: when it happened is not what stands on its newest version"
    identity = "" if record.state == State.VOID else identity_of(sheet, said)
    if record.identity != identity:
        yield f"{record.number}: what tells it from others of its kind is not what stands on its newest version"


def _agreed(record: Record) -> Signature | None:
    agreements = [one for one in record.signatures.all() if one.what == Signature.What.AGREED]
    return max(agreements, key=lambda one: one.pk, default=None)


def _pending(record: Record, versions: list[Version], posted: set[int]) -> Version | None:
    """The version that the books hold while a later one waits for a second person; None where none waits."""
    signed = _agreed(record)
    held = next((one for one in reversed(versions) if one.pk in posted), None)
    newest = versions[-1]
    if signed is None or held is None or newest.serial <= held.serial:
        return None
    asks_void = any(
        one.what == Signature.What.VOID_ASKED and one.version_id == newest.pk for one in record.signatures.all()
    )
    return held if asks_void or typed_of(held) != typed_of(newest) else None


def _state(
    record: Record, sheet: Sheet, versions: list[Version], typed: Typed, in_books: set[str], *, pending: bool
) -> Iterator[str]:
    claimed = [moment for moment in sheet.moments if typed.get(moment.when)]
    due = {moment.name for moment in claimed if moment.post is not None}
    waits = sheet.second_person and _agreed(record) is None and not in_books
    # What is in the books comes out of them only when the record is made void.
    void = not in_books if due and not waits else _took_itself_back(versions)
    if void:
        state = State.VOID
    elif waits or pending:
        state = State.WAITING
    else:
        state = State.COMPLETE if len(claimed) == len(sheet.moments) else State.OPEN
    if record.state != state:
        yield f"{record.number}: it is kept as '{record.state}', but its versions and postings make it '{state}'"
    elif not void and not waits and due - in_books:
        yield f"{record.number}: {', '.join(sorted(due - in_books))} is written on it and not in the books"


def _took_itself_back(versions: list[Version]) -> bool:
    """True where the newest version says nothing new and why: of a record that posts nothing, so it was made void."""
    if len(versions) < 2 or not versions[-1].reason:
        return False
    before, newest = versions[-2:]
    return (before.values, before.rows) == (newest.values, newest.rows)


def _mentions(record: Record, sheet: Sheet, typed: Typed, rows: list[Typed], site: Site) -> Iterator[str]:
    kept = Counter((one.field, one.what, one.code) for one in record.mentions.all())
    named = {
        (one.name, what, code)
        for fields, lines in ((sheet.fields, [typed]), (sheet.row_fields, rows))
        for one in fields
        for line in lines
        if line.get(one.name)
        for what, code in [_named(one, line[one.name].strip(), site, kept)]
        if what
    }
    if kept != Counter(named):
        yield f"{record.number}: the vessels, records and lots it is found by are not those on its newest version"


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
