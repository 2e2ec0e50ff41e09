"""Rows of the log gathered into entries: one record's worth of cells, and the moments at which they happened."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime

from batches.loading.tables import BadRow, Line, Table
from batches.sheets.register import order_of
from batches.sheets.sheet import Kind, Moment, Sheet
from batches.sheets.typed.moments import Unreadable
from batches.sheets.typed.parsing import read


@dataclass(slots=True)
class Entry:
    """What the log says of one record: its cells, its repeating lines, and where each stands in the file."""

    sheet: Sheet
    file: str
    row: int
    number: str
    values: dict[str, str]
    lines: list[Line] = field(default_factory=list)

    @property
    def rows(self) -> list[dict[str, str]]:
        """The repeating lines' cells."""
        names = {one.name for one in self.sheet.row_fields}
        return [{name: cell for name, cell in line.cells.items() if name in names} for line in self.lines]

    def row_of(self, index: int | None) -> int:
        """The row of the file that a problem stands in."""
        return self.row if index is None or index >= len(self.lines) else self.lines[index].row

    def column_of(self, name: str) -> str:
        """The column a problem stands in; a problem with the record itself stands at its number."""
        return name or self.sheet.number_column

    def refers_to(self) -> set[str]:
        """Numbers of the records it names."""
        return {
            self.values[one.name] for one in self.sheet.fields if one.kind == Kind.RECORD and one.name in self.values
        }

    def names(self, field: str) -> str:
        """The code of the vessel that a field names, small letters; blank where it names none."""
        sheet = self.sheet
        is_vessel = sheet.has_field(field) and sheet.field(field).kind == Kind.VESSEL
        return self.values.get(field, "").casefold() if is_vessel else ""

    def vessels(self) -> set[str]:
        """Codes of the vessels and stocks it names, small letters."""
        named = {
            cells[one.name].casefold()
            for fields, cells in (
                (self.sheet.fields, self.values),
                *((self.sheet.row_fields, line) for line in self.rows),
            )
            for one in fields
            if one.kind == Kind.VESSEL and one.name in cells
        }
        if "product" in self.values:
            named.add(f"stock of {self.values['product'].casefold()}")
        return named

    def happened(self, moment: Moment) -> datetime | None:
        """When one of its moments happened, or None where that cannot be told."""
        typed = self.values.get(moment.when)
        if not typed:
            return None
        try:
            found = read(self.sheet.field(moment.when), typed).value
        except Unreadable:
            return None
        return found if isinstance(found, datetime) else None

    def up_to(self, moment: Moment, *, is_last: bool) -> dict[str, str]:
        """The cells of all moments up to this one; with the last that happened, all cells."""
        if is_last:
            return dict(self.values)
        wanted = set()
        for one in self.sheet.moments:
            wanted |= {own.name for own in self.sheet.fields_of(one)}
            if one is moment:
                break
        return {name: cell for name, cell in self.values.items() if name in wanted}


@dataclass(frozen=True, slots=True)
class Event:
    """One moment of one entry, ready to be saved in its turn."""

    happened_at: datetime
    order: tuple[int, int, int]
    serial: int
    entry: Entry
    moment: Moment
    is_first: bool
    is_last: bool

    @property
    def key(self) -> tuple[datetime, tuple[int, int, int], str, int]:
        """Time, then the order of the process, then the clock as written, then the place in the folder."""
        return self.happened_at, self.order, self.entry.values.get(self.moment.when, ""), self.serial


def entries_of(sheet: Sheet, table: Table, bad: list[BadRow]) -> list[Entry]:
    """The entries of one table: a row each, or rows gathered by number where lines repeat."""
    head = {one.name for one in sheet.fields}
    entries: dict[str, Entry] = {}
    loose: list[Entry] = []
    for line in table.lines:
        number = line.cells.get(sheet.number_column, "") if sheet.number_column else ""
        if sheet.number_column and sheet.number_column in table.columns and not number:
            bad.append(BadRow(table.file, line.row, sheet.number_column, "The number is blank."))
            continue
        values = {name: cell for name, cell in line.cells.items() if name in head}
        if sheet.rows is None:
            entry = Entry(sheet, table.file, line.row, number, values)
            if number and number in entries:
                _twice(entries[number], entry, bad)
            elif number:
                entries[number] = entry
            else:
                loose.append(entry)
            continue
        key = number or ", ".join(values.get(name, "") for name in sheet.identity)
        if key not in entries:
            entries[key] = Entry(sheet, table.file, line.row, number, values)
        else:
            _same_head(entries[key], line, values, bad)
        entries[key].lines.append(line)
    return [*entries.values(), *loose]


def events_of(entries: Iterable[Entry]) -> list[Event]:
    """The moments of all entries in the order in which they happened."""
    events: list[Event] = []
    for entry in entries:
        known = [(moment, entry.happened(moment)) for moment in entry.sheet.moments]
        happened = [(moment, at) for moment, at in known if at is not None]
        for place, (moment, at) in enumerate(happened):
            events.append(
                Event(
                    happened_at=at,
                    order=order_of(entry.sheet, moment),
                    serial=len(events),
                    entry=entry,
                    moment=moment,
                    is_first=place == 0,
                    is_last=place == len(happened) - 1,
                )
            )
    return sorted(events, key=lambda event: event.key)


def _twice(first: Entry, second: Entry, bad: list[BadRow]) -> None:
    if first.values != second.values:
        sentence = f"{second.number} stands on row {first.row} already, with other figures."
        bad.append(BadRow(second.file, second.row, first.sheet.number_column, sentence))


def _same_head(entry: Entry, line: Line, values: Mapping[str, str], bad: list[BadRow]) -> None:
    for name in {*entry.values, *values}:
        if entry.values.get(name, "") != values.get(name, ""):
            bad.append(
                BadRow(
                    entry.file,
                    line.row,
                    name,
                    f"{name} is {values.get(name, 'blank')} here and {entry.values.get(name, 'blank')} on row "
                    f"{entry.row}, which is the same {entry.sheet.title.lower()}.",
                )
            )
