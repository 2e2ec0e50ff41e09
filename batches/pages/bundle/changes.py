"""Every entry of some months that is late, missing, struck, put right or not complete, worked out from what is kept."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Count, Q

from batches.models import Reading, Record, State, Version
from batches.pages.records.shown import RecordAsWritten, title_of
from batches.records.asking.late import reasons_given
from batches.returns.months import Span
from batches.sheets.register import NoSuchStep, sheet_of
from batches.sheets.sheet import Sheet
from batches.sheets.typed.parsing import is_missing
from distillery import figures
from distillery.lists.columns import ListColumn, MomentColumn
from distillery.lists.tables import HouseTable
from distillery.people.models import Person
from ledger.models import Movement, MovementKind
from ledger.statements.month import written_late
from ledger.views.ways import record_href

LATE, MISSING, STRUCK, CORRECTED = "Late", "Missing", "Struck", "Corrected"
TAKEN_BACK, NOT_COMPLETE = "Taken back in the books", "Not complete"
NO_REASON = "no reason written"


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry: when its record happened, what is the matter, which box, both values, why, by whom and when."""

    at: datetime
    record: str
    of: str
    what: str
    box: str = ""
    was: str = ""
    now: str = ""
    why: str = ""
    by: str = ""
    written: datetime | None = None
    kind: str = ""


class EntryTable(HouseTable):
    """The entries, in order of time."""

    at = MomentColumn("Happened", "at")
    record = ListColumn("Record", "record", href=lambda row: record_href(row.kind, row.record) if row.kind else "")
    of = ListColumn("Of", "of")
    what = ListColumn("What", "what")
    box = ListColumn("Box", "box")
    was = ListColumn("Was", "was")
    now = ListColumn("Stands now", "now")
    why = ListColumn("Why", "why")
    by = ListColumn("By", "by")
    written = MomentColumn("Written", "written")

    name, caption = "entries-changed", "Entries late, missing, struck or put right"
    nothing = "No entry of this time is late, missing, struck or put right."


def entries_in(span: Span) -> list[Entry]:
    """All of them, of the records that happened in a month, in order of time."""
    records = list(
        Record.objects.filter(happened_from__gte=span.starts, happened_from__lt=span.ends)
        .annotate(saved=Count("versions"))
        .order_by("happened_from", "pk")
    )
    found = [*_late(span), *_taken_back(span), *_readings(records), *_boxes(records)]
    for record in records:
        found += _put_right(record)
        if record.state != State.COMPLETE:
            found.append(_said_of(record, NOT_COMPLETE if record.state != State.VOID else "Void", now=record.state))
    return sorted(found, key=lambda one: (one.at, one.record))


def _late(span: Span) -> Iterator[Entry]:
    """Movements written late, with the reason where one was asked for."""
    rows = Movement.objects.filter(span.holds(""), written_late(), kind=MovementKind.OPERATION)
    reasons = reasons_given(set(rows.values_list("record_number", flat=True)))
    for one in rows.select_related("person").order_by("pk"):
        yield Entry(
            one.took_place_at,
            one.record_number,
            title_of(one.record_kind),
            LATE,
            box=one.operation,
            now=f"written {figures.span(one.written_at - one.took_place_at)} later",
            why=reasons.get(one.record_number, NO_REASON),
            by=one.person.shown_name,
            written=one.written_at,
            kind=one.record_kind,
        )


def _taken_back(span: Span) -> Iterator[Entry]:
    rows = Movement.objects.filter(span.holds(""), corrects__isnull=False).select_related("person")
    for one in rows.order_by("pk"):
        yield Entry(
            one.took_place_at,
            one.record_number,
            title_of(one.record_kind),
            TAKEN_BACK,
            box=one.operation,
            was=f"movement {one.corrects_id}",
            now=f"opposite, movement {one.pk}",
            why=one.reason or NO_REASON,
            by=one.person.shown_name,
            written=one.written_at,
            kind=one.record_kind,
        )


def _readings(records: Sequence[Record]) -> Iterator[Entry]:
    """Readings that were struck, and those written late with a reason."""
    of = {one.pk: one for one in records}
    rows = Reading.objects.filter(Q(strikes__isnull=False) | ~Q(late_reason=""), record__in=records)
    for one in rows.select_related("person", "strikes").order_by("at", "pk"):
        record = of[one.record_id]
        struck = one.strikes
        yield Entry(
            one.at,
            record.number,
            title_of(record.kind),
            LATE if struck is None else STRUCK,
            box=_quantity(record.kind, one.quantity),
            was="" if struck is None else struck.value,
            now=one.value or "struck",
            why=one.late_reason if struck is None else one.reason,
            by=one.person.shown_name,
            written=one.written_at,
            kind=record.kind,
        )


def _quantity(kind: str, name: str) -> str:
    sheet = _sheet(kind)
    declared = sheet.reading(name) if sheet is not None else None
    return declared.label if declared is not None else name


def _boxes(records: Sequence[Record]) -> Iterator[Entry]:
    """Boxes marked missing on what stands."""
    of = {one.pk: one for one in records}
    newest: dict[int, Version] = {}
    for version in Version.objects.filter(record__in=records).select_related("person").order_by("serial"):
        newest[version.record_id] = version
    for key, version in newest.items():
        sheet = _sheet(of[key].kind)
        lines = [(json.loads(version.values), ""), *_numbered(json.loads(version.rows))]
        for values, line in lines:
            for name in (name for name, typed in values.items() if is_missing(typed)):
                known = sheet is not None and sheet.has_field(name)
                label = sheet.field(name).label if known and sheet is not None else name
                yield _said_of(of[key], MISSING, box=f"{label}{line}", now="not read", version=version)


def _numbered(rows: list[dict[str, str]]) -> list[tuple[dict[str, str], str]]:
    return [(row, f", line {place}") for place, row in enumerate(rows, 1)]


def _put_right(record: Record) -> Iterator[Entry]:
    """What was written and then put right on a record; only one that was saved more than once can have any."""
    sheet = _sheet(record.kind)
    if sheet is None or record.saved < 2:  # type: ignore[attr-defined]
        return
    for one in RecordAsWritten(record, sheet).changes:
        yield _said_of(
            record,
            CORRECTED,
            box=one.label,
            was=one.old,
            now=one.new or "struck",
            why=one.version.reason or "written again before it was complete",
            version=one.version,
        )


def _said_of(record: Record, what: str, *, version: Version | None = None, **said: str) -> Entry:
    by = version.person.shown_name if version is not None else _name(record.opened_by)
    written = version.written_at if version is not None else record.opened_at
    of = title_of(record.kind)
    return Entry(record.happened_from, record.number, of, what, by=by, written=written, kind=record.kind, **said)


def _name(person: Any) -> str:
    assert isinstance(person, Person)
    return person.shown_name


def _sheet(kind: str) -> Sheet | None:
    try:
        return sheet_of(kind)
    except NoSuchStep:
        return None
