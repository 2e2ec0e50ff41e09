"""All that was written of one cask, vessel or record, from every place it is kept in, in order of time.

Nothing is worked out here: records and what was put right on them, readings that were struck, movements with their
opposites, gauges, names put under it, enquiries, and what the plant's own list said of it.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from django.db.models import Q, QuerySet
from django.urls import reverse

from batches.casks.life import life_of
from batches.models import Mention, Reading, Record, Signature, Version
from batches.pages.records.shown import Change, RecordAsWritten, record_address, title_of
from batches.sheets.register import sheet_of
from distillery import figures
from distillery.labels.scanned import number_or_text
from distillery.plant.lookup import Plant
from distillery.plant.models import Cask, Kind, Vessel
from distillery.trail.telling import tell, told_entries
from ledger.enquiries.models import EnquiryEvent
from ledger.models import Account, Gauge, Leg, Movement

# Of a still that worked for years a page shows these, the newest; a cask has some tens in its life.
MOST_RECORDS: Final = 400
NO_REASON: Final = "no reason written"


@dataclass(frozen=True, slots=True)
class Written:
    """One thing that was written: when it was written and of which time it is, what was done, on which record, movement
    or list, which box, what stood before and what since, why, and by whom.
    """

    written: datetime
    at: datetime
    what: str
    of: str
    href: str = ""
    box: str = ""
    was: str = ""
    now: str = ""
    why: str = ""
    by: str = ""


@dataclass(frozen=True, slots=True)
class Thing:
    """What is asked about: a vessel or cask, or one record; its address, and in words what it is."""

    code: str
    said: str
    href: str
    vessel: Vessel | None = None
    record: Record | None = None

    @property
    def named(self) -> str:
        """What it is, in the middle of a sentence: 'cask 2022/0007'."""
        return f"{self.said[:1].lower()}{self.said[1:]}"


def thing_of(typed: str) -> Thing | None:
    """The cask, vessel or record of a number, capital and small letters alike; None where there is none."""
    wanted = number_or_text(typed)
    if not wanted:
        return None
    vessel = Plant().vessel_meant(wanted)
    if vessel is not None:
        name = "cask" if vessel.kind == Kind.CASK else "vessel_account"
        said = "Cask" if vessel.kind == Kind.CASK else "Vessel"
        return Thing(vessel.code, f"{said} {vessel.code}", reverse(name, args=[vessel.code]), vessel=vessel)
    record = Record.objects.filter(number__iexact=wanted).first()
    if record is None:
        return None
    return Thing(record.number, f"{title_of(record.kind)} {record.number}", record_address(record), record=record)


def written_of(thing: Thing) -> tuple[list[Written], bool]:
    """All that was written of it, in the order in which it was written; and whether earlier records are left out."""
    records, goes_on = _records(thing)
    found = [
        *_of_records(thing, records),
        *_movements(thing),
        *_gauges(thing),
        *_signed(records),
        *_enquiries(records),
        *_listed(thing),
    ]
    return sorted(found, key=lambda one: (one.written, one.at)), goes_on


def _records(thing: Thing) -> tuple[list[Record], bool]:
    if thing.record is not None:
        return [thing.record], False
    named = Mention.objects.filter(what=Mention.What.VESSEL, code=thing.code).values("record")
    newest = list(Record.objects.filter(pk__in=named).order_by("-happened_from", "-pk")[: MOST_RECORDS + 1])
    return newest[:MOST_RECORDS][::-1], len(newest) > MOST_RECORDS


def _of_records(thing: Thing, records: Sequence[Record]) -> Iterator[Written]:
    versions: dict[int, list[Version]] = defaultdict(list)
    rows = Version.objects.filter(record__in=records).select_related("person", "record").order_by("serial")
    for version in rows:
        versions[version.record_id].append(version)
    said = _said_of_cask(thing)
    for record in records:
        as_written = RecordAsWritten(record, sheet_of(record.kind))
        as_written.versions = versions[record.pk]
        changes: dict[int, list[Change]] = defaultdict(list)
        for change in as_written.changes:
            if is_about(thing, change, versions[record.pk]):
                changes[change.version.pk].append(change)
        for version in versions[record.pk]:
            if version.serial == 1 or not (found := changes[version.pk]):
                what = "Written" if version.serial == 1 else "Written further"
                now = said.get(record.pk, "") if version.serial == 1 else ""
                yield _by_version(version, what, now=now, why=version.reason or version.late_reason)
                continue
            for one in found:
                why = version.reason or "written again before it was complete"
                what = "Put right" if one.new else "Struck"
                yield _by_version(version, what, box=one.label, was=one.old, now=one.new, why=why)
    yield from _struck(records)


def _said_of_cask(thing: Thing) -> dict[int, str]:
    """What each record says of a cask, besides its alcohol, as its life has it."""
    if thing.vessel is None or thing.vessel.kind != Kind.CASK:
        return {}
    return {one.record.pk: one.said for one in life_of(thing.vessel)}


def is_about(thing: Thing, change: Change, versions: Sequence[Version]) -> bool:
    """Of a line, whether it is about the vessel: one sheet fills many casks. Everything else of a record is."""
    if thing.vessel is None or change.row is None:
        return True
    before = next(one for one in versions if one.serial == change.version.serial - 1)
    codes = set()
    for version in (before, change.version):
        lines = json.loads(version.rows)
        if change.row < len(lines):
            codes |= {str(typed).casefold() for typed in lines[change.row].values()}
    return thing.code.casefold() in codes or not _names_casks(change, versions[-1])


def _names_casks(change: Change, version: Version) -> bool:
    sheet = sheet_of(version.record.kind)
    return sheet.of_casks is not None and any(one.name == sheet.of_casks.cask for one in sheet.row_fields)


def _by_version(version: Version, what: str, **said: str) -> Written:
    record = version.record
    return Written(
        written=version.written_at,
        at=record.happened_from,
        what=what,
        of=f"{title_of(record.kind)} {record.number}",
        href=record_address(record),
        by=version.person.shown_name,
        **said,
    )


def _struck(records: Sequence[Record]) -> Iterator[Written]:
    rows = Reading.objects.filter(strikes__isnull=False, record__in=records)
    for one in rows.select_related("person", "strikes", "record").order_by("pk"):
        sheet, struck = sheet_of(one.record.kind), one.strikes
        declared = sheet.reading(one.quantity)
        yield Written(
            written=one.written_at,
            at=one.at,
            what="Reading struck",
            of=f"{sheet.title} {one.record.number}",
            href=record_address(one.record),
            box=declared.label if declared is not None else one.quantity,
            was=struck.value if struck is not None else "",
            now=one.value,
            why=one.reason or NO_REASON,
            by=one.person.shown_name,
        )


def _movements(thing: Thing) -> Iterator[Written]:
    """What each movement did to the vessel, or to all that the record moved, opposites among them."""
    sums: dict[int, int] = defaultdict(int)
    if thing.vessel is not None:
        for number, pure_ul in Leg.objects.filter(account__vessel=thing.vessel).values_list("movement_id", "pure_ul"):
            sums[number] += pure_ul
        rows: QuerySet[Movement] = Movement.objects.filter(pk__in=sums)
    else:
        rows = Movement.objects.filter(record_number=thing.code)
    for one in rows.select_related("person").order_by("pk"):
        amount = sums.get(one.pk)
        now = "" if amount is None else f"{figures.lpa(abs(amount))} LPA {'in' if amount >= 0 else 'out'}"
        back = one.corrects_id is not None
        yield Written(
            written=one.written_at,
            at=one.took_place_at,
            what="Taken back in the books" if back else "Entered in the books",
            of=f"Movement {one.pk}",
            href=reverse("movement", args=[one.pk]),
            box=one.operation,
            was=f"movement {one.corrects_id}" if back else "",
            now=f"opposite, {now}" if back and now else now,
            why=one.reason,
            by=one.person.shown_name,
        )


def _gauges(thing: Thing) -> Iterator[Written]:
    if thing.vessel is None:
        rows = Gauge.objects.get_queryset().filter(movement__record_number=thing.code)
    else:
        rows = Gauge.objects.get_queryset().filter(account__in=Account.objects.filter(vessel=thing.vessel))
    for one in rows.select_related("movement__person", "account").order_by("pk"):
        movement = one.movement
        yield Written(
            written=movement.written_at,
            at=one.happened_at,
            what="Gauged",
            of=f"Movement {movement.pk}",
            href=reverse("movement", args=[movement.pk]),
            box=one.account.name,
            was=f"{figures.lpa(one.book_ul)} LPA by its book",
            now=f"{figures.lpa(one.pure_ul)} LPA",
            by=movement.person.shown_name,
        )


def _signed(records: Sequence[Record]) -> Iterator[Written]:
    rows = Signature.objects.filter(record__in=records).select_related("person", "record", "version")
    for one in rows.order_by("pk"):
        yield Written(
            written=one.at,
            at=one.record.happened_from,
            what=one.get_what_display(),
            of=f"{title_of(one.record.kind)} {one.record.number}",
            href=record_address(one.record),
            now=f"version {one.version.serial}",
            by=one.person.shown_name,
        )


def _enquiries(records: Sequence[Record]) -> Iterator[Written]:
    about = Q(enquiry__record_number__in=[one.number for one in records])
    for one in EnquiryEvent.objects.filter(about).select_related("enquiry", "person").order_by("pk"):
        yield Written(
            written=one.at,
            at=one.enquiry.happened_at,
            what=one.get_what_display(),
            of=f"Enquiry {one.enquiry.number}",
            href=reverse("enquiry", args=[one.enquiry.number]),
            now=one.get_ending_display() if one.ending else "",
            why=one.text or one.checked,
            by=one.person.shown_name if one.person is not None else "the program",
        )


def _listed(thing: Thing) -> Iterator[Written]:
    """What the plant's own list said of the vessel, entry by entry of the trail."""
    if thing.vessel is None:
        return
    key = str(thing.vessel.pk)
    tables = [Vessel._meta.db_table, Cask._meta.db_table]
    entries = list(told_entries().filter(table__in=tables, row=key).order_by("pk"))
    for entry, told in zip(entries, tell(entries), strict=True):
        if told.is_first:
            yield Written(entry.at, entry.at, "Came onto the list", told.which, by=told.by)
            continue
        for one in told.changes:
            yield Written(
                entry.at, entry.at, "List changed", told.which, box=one.what, was=one.before, now=one.after, by=told.by
            )
