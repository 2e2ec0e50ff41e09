"""Two people on one record: what each typed, box by box, from what both had before them.

Where only one of them changed a box, that change is kept. Where both did, the writer's own words stay in the box until
the writer chooses: nobody decides for them. A repeating line is known by what names it (the cask of a fill), so that
lines written in another order are still the same lines.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from batches.sheets.sheet import Sheet

Typed = dict[str, str]
Flat = dict[str, str]
# Between what names a line and the field on it; no field's name has one.
PART = "|"


@dataclass(frozen=True, slots=True)
class Difference:
    """One box that somebody else has changed: as it was, as the writer typed it, as it stands now."""

    key: str
    label: str
    opened: str
    yours: str
    theirs: str


def flat(sheet: Sheet, values: Mapping[str, str], rows: Sequence[Mapping[str, str]] = ()) -> Flat:
    """Single fields and the fields of lines under one kind of key; blank ones left out."""
    found = {name: text for name, text in values.items() if text}
    for index, row in enumerate(rows):
        line = (sheet.rows.named(row) if sheet.rows else "") or f"line {index + 1}"
        found |= {f"{line}{PART}{name}": text for name, text in row.items() if text}
    return found


def unflat(typed: Flat) -> tuple[Typed, list[Typed]]:
    """The other way: single fields, and lines in the order in which they first come."""
    values: Typed = {}
    lines: dict[str, Typed] = {}
    for key, text in typed.items():
        line, part, name = key.rpartition(PART)
        if part:
            lines.setdefault(line, {})[name] = text
        else:
            values[key] = text
    return values, list(lines.values())


def differences(sheet: Sheet, opened: Flat, yours: Flat, theirs: Flat) -> list[Difference]:
    """What somebody else has changed and the writer has not changed alike, in the order of the sheet."""
    found = []
    for key in dict.fromkeys((*opened, *theirs)):
        was, own, now = (typed.get(key, "") for typed in (opened, yours, theirs))
        if now not in (was, own):
            found.append(Difference(key, _label(sheet, key, opened | theirs), was, own, now))
    order = {field.name: place for place, field in enumerate((*sheet.fields, *sheet.row_fields))}
    return sorted(found, key=lambda one: order.get(one.key.rpartition(PART)[2], len(order)))


def together(opened: Flat, yours: Flat, theirs: Flat) -> Flat:
    """The writer's words where the writer changed something, and what stands now everywhere else."""
    keys = dict.fromkeys((*yours, *theirs))
    kept = {
        key: yours.get(key, "") if yours.get(key, "") != opened.get(key, "") else theirs.get(key, "") for key in keys
    }
    return {key: text for key, text in kept.items() if text}


def _label(sheet: Sheet, key: str, typed: Flat) -> str:
    line, part, name = key.rpartition(PART)
    label = sheet.field(name).label if sheet.has_field(name) else name
    if not part or sheet.rows is None:
        return label
    return f"{label}, {sheet.rows.one} {typed.get(f'{line}{PART}{sheet.rows.each}', line)}"
