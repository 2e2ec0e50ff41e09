"""A record as the parts of a page: what was written, what was put right, what is unlikely, its links both ways.

Nothing is worked out here. Values stand as they were typed; a time is written as times are everywhere. A value
that was put right keeps the old one beside it, with who changed it, when and why.
"""

from __future__ import annotations

import json
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from functools import cached_property
from urllib.parse import urlencode

from django.urls import reverse

from batches.hands import in_words, names_in
from batches.models import Record, Signature, State, Version
from batches.records import signatures
from batches.sheets.sheet import Field, Kind, Moment, Section, Sheet
from batches.sheets.typed.moments import Unreadable, read_moment
from batches.sheets.typed.other_units import says_other_unit, scale_said
from batches.sheets.typed.parsing import is_missing, plain, read_number
from batches.steps import NoSuchStep, sheet_of
from distillery import figures, pages
from distillery.typed.meaning import parted
from ledger.models import Movement

STATES = {
    State.OPEN: pages.State(pages.Kind.OPEN, "Open"),
    State.WAITING: pages.ONE_OF_TWO,
    State.VOID: pages.State(pages.Kind.STRUCK, "Void"),
}


@dataclass(frozen=True, slots=True)
class Change:
    """A value put right after it was written. `row` counts from 0; None for a field that stands once."""

    mark: str
    field: str
    row: int | None
    label: str
    old: str
    new: str
    version: Version


@dataclass(frozen=True, slots=True)
class Remark:
    """Something unlikely that was kept."""

    label: str
    sentence: str


class RecordAsWritten:
    """One record with all its versions, the newest last, read once."""

    def __init__(self, record: Record, sheet: Sheet) -> None:
        self.record = record
        self.sheet = sheet

    @cached_property
    def versions(self) -> list[Version]:
        """Oldest first."""
        return list(self.record.versions.select_related("person").order_by("serial"))

    @cached_property
    def hands(self) -> list[tuple[Version, str]]:
        """Each version with whose hands it went through besides its writer's, in words."""
        names = names_in(self.versions)
        return [(one, in_words(one, names)) for one in self.versions]

    @cached_property
    def signature(self) -> Signature | None:
        """The last agreement of a second person."""
        return signatures.newest(self.record)

    @cached_property
    def no_longer_signed(self) -> Signature | None:
        """That agreement, where it does not cover what stands any more."""
        return signatures.no_longer_covers(self.signature, self.record, self.latest)

    @property
    def latest(self) -> Version:
        """What stands."""
        return self.versions[-1]

    @cached_property
    def typed(self) -> dict[str, str]:
        """The single fields as they stand."""
        return _values(self.latest)

    @cached_property
    def rows(self) -> list[dict[str, str]]:
        """The repeating lines as they stand."""
        return _rows(self.latest)

    @cached_property
    def changes(self) -> list[Change]:
        """Every value that was written and then put right, in the order of putting right."""
        found: list[Change] = []
        for before, after in zip(self.versions, self.versions[1:], strict=False):
            old, new = _values(before), _values(after)
            for field in self.sheet.fields:
                self._compare(found, field, None, old, new, after)
            old_rows, new_rows = _rows(before), _rows(after)
            for row in range(len(old_rows)):
                now = new_rows[row] if row < len(new_rows) else {}
                for field in self.sheet.row_fields:
                    self._compare(found, field, row, old_rows[row], now, after)
        return found

    def _compare(
        self,
        found: list[Change],
        field: Field,
        row: int | None,
        old: Mapping[str, str],
        new: Mapping[str, str],
        version: Version,
    ) -> None:
        was, now = old.get(field.name, ""), new.get(field.name, "")
        if was and was != now:
            label = field.label
            if row is not None and self.sheet.rows is not None:
                label = f"{label}, {self.sheet.rows.one} {row + 1}"
            found.append(Change(letters(len(found)), field.name, row, label, was, now, version))

    def change_of(self, name: str, row: int | None = None) -> Change | None:
        """The last change of a field, or None."""
        return next((one for one in reversed(self.changes) if (one.field, one.row) == (name, row)), None)

    @cached_property
    def remarks(self) -> list[Remark]:
        """What is unlikely on the record as it stands."""
        found = []
        for note in json.loads(self.latest.notes):
            name = note.get("field", "")
            label = self.sheet.field(name).label if self.sheet.has_field(name) else name
            row = note.get("row")
            found.append(Remark(label if row is None else f"{label}, line {row + 1}", note.get("sentence", "")))
        return found

    # -- parts of the page

    def facts_of(self, section: Section, *, but: Collection[str] = ()) -> list[pages.Fact]:
        """Labels and values of one section, those not written yet left out, and those named in `but`."""
        facts = []
        for field in section.fields:
            if field.name in but:
                continue
            typed = self.typed.get(field.name, "")
            change = self.change_of(field.name)
            if not typed and change is None:
                continue
            note = f"{change.mark}: {change.old} struck" if change else ""
            facts.append(
                pages.Fact(
                    field.label,
                    as_text(field, typed) if typed else "struck",
                    unit=unit_of(field, typed) if typed else "",
                    href=address_of_value(field, typed),
                    note=note,
                )
            )
        return facts

    @property
    def row_fields_written(self) -> list[Field]:
        """The fields of a repeating line that some line has: the columns of `rows_table`."""
        return [one for one in self.sheet.row_fields if any(row.get(one.name) for row in self.rows)]

    def rows_table(self) -> pages.Table | None:
        """The repeating lines as a table."""
        if self.sheet.rows is None or not (self.rows or (self.sheet.rows.least and self.record.state != State.OPEN)):
            return None
        fields = self.row_fields_written
        columns = [pages.Column(one.label, numeric=is_figure(one), unit=unit_of(one)) for one in fields]
        rows = []
        for number, line in enumerate(self.rows):
            cells = []
            for field in fields:
                change = self.change_of(field.name, number)
                typed = line.get(field.name, "")
                cells.append(
                    pages.Cell(
                        as_text(field, typed) if typed else "",
                        href=address_of_value(field, typed),
                        struck=change.old if change else "",
                        note=change.mark if change else "",
                    )
                )
            rows.append(pages.Row(cells))
        return pages.Table(self.sheet.rows.heading, columns, rows, empty="No lines written yet.", wide=True)

    def changes_rows(self) -> list[pages.Row]:
        """What was put right, a line each: letter, what, old value struck and new one, by whom, when and why."""
        return [
            pages.Row(
                [
                    pages.Cell(one.mark),
                    pages.Cell(one.label),
                    pages.Cell(one.new or "left blank", struck=one.old),
                    pages.Cell(one.version.person.shown_name),
                    pages.Cell(figures.moment(one.version.written_at)),
                    pages.Cell(one.version.reason or "written again before it was complete"),
                ]
            )
            for one in self.changes
        ]


def moments_left(written: RecordAsWritten) -> list[Moment]:
    """The moments of a record that have not been written yet, in order; none of one that is done."""
    return left_to_write(written.sheet, written.typed)


def left_to_write(sheet: Sheet, typed: Mapping[str, str]) -> list[Moment]:
    """The moments that are left of a sheet as it is written; none where all has come that must."""
    left = [one for one in sheet.moments if not typed.get(one.when) and one.comes(typed)]
    return left if any(not one.optional for one in left) else []


def moments_to_correct(sheet: Sheet, typed: Mapping[str, str]) -> list[Moment]:
    """The moments that are written, and those that may have been forgotten before one that is."""
    there = [bool(typed.get(one.when)) for one in sheet.moments]
    return [
        one for place, one in enumerate(sheet.moments) if there[place] or (one.optional and any(there[place + 1 :]))
    ]


def moments_written(written: RecordAsWritten) -> list[Moment]:
    """The moments of a record that have been written."""
    return [one for one in written.sheet.moments if written.typed.get(one.when)]


def letters(number: int) -> str:
    """a, b, ... z, aa, ab: the marks of footnotes."""
    text = ""
    number += 1
    while number:
        number, place = divmod(number - 1, 26)
        text = chr(ord("a") + place) + text
    return text


def title_of(kind: str) -> str:
    """'Spirit run' for the kind of a record."""
    try:
        return sheet_of(kind).title
    except NoSuchStep:
        return kind


def state_of(record: Record) -> pages.State | None:
    """The state shown beside a record; a complete one has none."""
    return STATES.get(State(record.state))


def as_text(field: Field, typed: str) -> str:
    """A value as it is shown: as typed, a time as times are written everywhere.

    A figure that was typed in another unit is followed by what it was taken for.
    """
    if field.kind == Kind.MOMENT:
        try:
            return figures.moment(read_moment(field, typed)[0])
        except Unreadable:
            return typed
    if _says_its_unit(field, typed) and not scale_said(field, typed):
        try:
            taken = f"{plain(read_number(field, typed).normalize())} {unit_of(field)}".strip()
            return f"{typed} ({taken})"
        except Unreadable:
            return typed
    return typed


def unit_of(field: Field, typed: str = "") -> str:
    """The unit as it is shown beside a figure; a relative density has none, nor what was typed with a unit."""
    if field.unit == "relative density" or is_missing(typed) or _says_its_unit(field, typed):
        return ""
    return "" if is_figure(field) and _is_followed(typed) else field.unit


def _is_followed(typed: str) -> bool:
    """True where something stands behind the figure: its own unit, '2000 kg'."""
    found = parted(typed.strip())
    return found is not None and bool(found[2].strip())


def _says_its_unit(field: Field, typed: str) -> bool:
    return is_figure(field) and says_other_unit(field, typed)


def is_figure(field: Field) -> bool:
    """True for what stands right-aligned in a table."""
    return field.kind in (Kind.NUMBER, Kind.WHOLE)


def gauge_label(sheet: Sheet, name: str) -> str:
    """What a gauge of the ledger is called on its sheet."""
    try:
        return sheet.gauge(name).label
    except KeyError:
        return name.replace("_", " ").capitalize()


# -- addresses


def record_address(record: Record, name: str = "record") -> str:
    """The address of a record's page, or of one of the pages about it."""
    return reverse(name, args=[record.kind, record.number])


def address_of_value(field: Field, typed: str) -> str:
    """Where a value leads: the vessel, record or lot it names."""
    if not typed:
        return ""
    if field.kind == Kind.RECORD:
        return reverse("record", args=[field.record_kind, typed])
    if field.kind == Kind.VESSEL or field.lot:
        return f"{reverse('find')}?{urlencode({'q': typed})}"
    return ""


def movement_address(movement: Movement) -> str:
    """The page of a movement."""
    return reverse("movement", kwargs={"number": movement.pk})


def _values(version: Version) -> dict[str, str]:
    values: dict[str, str] = json.loads(version.values)
    return values


def _rows(version: Version) -> list[dict[str, str]]:
    rows: list[dict[str, str]] = json.loads(version.rows)
    return rows
