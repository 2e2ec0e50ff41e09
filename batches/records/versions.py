"""Versions of a record: what was typed at each saving, its digest, and what it names."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from datetime import UTC, datetime
from decimal import Decimal
from json.encoder import encode_basestring_ascii as quoted
from typing import Any, Final

from batches.hands import ALONE, Hands, said_by
from batches.models import Mention, Record, Version
from batches.sheets.sheet import Field, Kind, Sheet
from batches.sheets.typed.read_sheet import Filled
from batches.sheets.typed.values import Value
from distillery.database.fixed_sql import add, add_one
from distillery.hashing import canonical, moment_text
from distillery.people.models import Person
from distillery.plant.models import Vessel

Typed = dict[str, str]

# What a version says, in the order in which `line_of` takes it.
SAID: Final = (
    *("kind", "number", "serial", "values", "rows", "notes", "reason", "person", "written_at"),
    *("read_by", "typed_by", "pc", "late_reason", "blank_sheet"),
)


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
    """SHA-256 over everything a version says; `before` is the digest of the version before it, or nothing."""
    return digest_of_line(line_of_version(version, before=before))


def line_of_version(version: Version, *, before: str) -> str:
    """A version as the one line of JSON that is hashed."""
    said = {
        **said_by(version),
        "kind": version.record.kind,
        "number": version.record.number,
        "serial": version.serial,
        "values": version.values,
        "rows": version.rows,
        "notes": version.notes,
        "reason": version.reason,
        "person": version.person.username,
        "written_at": version.written_at,
    }
    return line_of([said.get(name, "") for name in SAID], before=before)


def digest_of_line(line: str) -> str:
    """The digest of a version whose line is at hand."""
    return hashlib.sha256(line.encode("ascii")).hexdigest()


def line_of(said: Sequence[Any], *, before: str) -> str:
    """A version as the one line of JSON that is hashed, from what it says in the order of SAID.

    Its members are those of SAID and `before`, sorted by name, without spaces and with all characters beyond ASCII
    escaped. Values, rows and notes are the JSON texts that are stored; the time is UTC to the microsecond. Whose hands
    it went through stands only where it is somebody. Raises ValueError for a time that is none, or for a
    serial that is no whole number.
    """
    kind, number, serial, values, rows, notes, reason, person, written_at, *hands = said
    read_by, typed_by, pc, late_reason, blank_sheet = hands
    return (
        f'{{"before":{quoted(before)},{_where_said("blank_sheet", blank_sheet)}"kind":{quoted(kind)},'
        f"{_where_said('late_reason', late_reason)}"
        f'"notes":{quoted(notes)},"number":{quoted(number)},{_where_said("pc", pc)}"person":{quoted(person)},'
        f'{_where_said("read_by", read_by)}"reason":{quoted(reason)},"rows":{quoted(rows)},"serial":{serial:d},'
        f'{_where_said("typed_by", typed_by)}"values":{quoted(values)},"written_at":"{moment_text(written_at)}"}}'
    )


def _where_said(name: str, text: str) -> str:
    return f'"{name}":{quoted(text)},' if text else ""


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
