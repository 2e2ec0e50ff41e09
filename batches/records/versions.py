"""Versions of a record: what was typed at each saving, its digest, and what it names."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from datetime import UTC, datetime
from decimal import Decimal

from batches.hands import ALONE, Hands, said_by
from batches.models import Mention, Record, Version
from batches.sheets.read_sheet import Filled
from batches.sheets.sheet import Field, Kind, Sheet
from batches.sheets.values import Value
from distillery.fixed_sql import add, add_one
from distillery.people.models import Person
from distillery.plant.models import Vessel
from ledger.proof.sealing import utc

Typed = dict[str, str]


def newest(record: Record) -> Version:
    """The version that stands."""
    return Version.objects.filter(record=record).select_related("person").latest("serial")


def typed_of(version: Version) -> tuple[Typed, list[Typed]]:
    """What was typed: single fields and repeating lines."""
    values: Typed = json.loads(version.values)
    rows: list[Typed] = json.loads(version.rows)
    return values, rows


def merged(
    old: Typed, old_rows: list[Typed], values: Mapping[str, str], rows: Sequence[Mapping[str, str]]
) -> tuple[Typed, list[Typed]]:
    """What stands after a saving: fields given replace, fields left out stay; lines given replace all lines.

    A line left blank keeps its place, so that what is said of the lines after it counts as the page does.
    """
    typed = {**old, **{name: text.strip() for name, text in values.items()}}
    lines = [{name: text.strip() for name, text in row.items() if text.strip()} for row in (rows or old_rows)]
    while lines and not lines[-1]:
        lines.pop()
    return {name: text for name, text in typed.items() if text}, lines


def write(
    record: Record,
    filled: Filled,
    *,
    person: Person,
    written_at: datetime,
    reason: str = "",
    serial: int | None = None,
    hands: Hands = ALONE,
) -> Version:
    """Adds a version, sealed by a digest over all that stands on it and over the version before it."""
    before = None if serial == 1 else Version.objects.filter(record=record).order_by("serial").last()
    version = Version(
        record=record,
        serial=1 if before is None else before.serial + 1,
        values=canonical(filled.typed),
        rows=canonical(filled.rows),
        notes=canonical([asdict(note) for note in filled.notes]),
        written_at=written_at,
        person=person,
        reason=reason,
        **hands.columns(),
    )
    version.digest = digest_of(version, before="" if before is None else before.digest)
    add_one(version)
    return version


def digest_of(version: Version, *, before: str) -> str:
    """SHA-256 over everything a version says; `before` is the digest of the version before it, or nothing.

    Hashed is one line of JSON with the members of `content_of`, sorted by name, without spaces and with all characters
    beyond ASCII escaped. Values, rows and notes are the JSON texts that are stored; the time is UTC to the microsecond.
    """
    return hashlib.sha256(canonical(content_of(version, before=before)).encode("ascii")).hexdigest()


def content_of(version: Version, *, before: str) -> dict[str, object]:
    """A version as plain data, in the form that is hashed; whose hands it went through, as far as they are named."""
    return {
        **said_by(version),
        "kind": version.record.kind,
        "number": version.record.number,
        "serial": version.serial,
        "before": before,
        "values": version.values,
        "rows": version.rows,
        "notes": version.notes,
        "reason": version.reason,
        "person": version.person.username,
        "written_at": utc(version.written_at),
    }


def canonical(data: object) -> str:
    """One line of JSON that is always the same for the same data."""
    return json.dumps(data, sort_keys=True, separators=(",", ":"), ensure_ascii=True)


def identity_of(sheet: Sheet, values: Mapping[str, Value]) -> str:
    """What tells a record from others of its kind where the log gives no number; empty where it does."""
    if any(name not in values for name in sheet.identity):
        return ""
    return ", ".join(plain_value(values[name]) for name in sheet.identity)


def plain_value(value: Value) -> str:
    """A value as text that is the same however it was typed."""
    if isinstance(value, Decimal):
        return f"{value.normalize():f}"
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat()
    if isinstance(value, Vessel):
        return value.code
    if isinstance(value, Record):
        return value.number
    return str(value).casefold()


def mention(record: Record, filled: Filled, *, fresh: bool = False) -> None:
    """Writes down anew what a record is found by: records, vessels, lots, documents and products it names."""
    sheet, completed = filled.completed.sheet, filled.completed
    named = {
        (one.name, what, code)
        for fields, values in (
            (sheet.fields, completed.values),
            *((sheet.row_fields, line.values) for line in completed.rows),
        )
        for one in fields
        if one.name in values
        for what, code in [_named(one, values[one.name])]
        if what
    }
    if not fresh:
        Mention.objects.filter(record=record).delete()
    add([Mention(record=record, field=name, what=what, code=code) for name, what, code in sorted(named)])


def _named(one: Field, value: Value) -> tuple[str, str]:
    if isinstance(value, Vessel):
        return Mention.What.VESSEL, value.code
    if isinstance(value, Record):
        return Mention.What.RECORD, value.number
    if one.kind == Kind.TEXT and isinstance(value, str):
        return (Mention.What.LOT if one.lot else one.found_as), value
    return "", ""
