"""The table of readings of a month: one reading a row, added to records that are there, each only once.

The readings of a record are added as soon as the record is, so that they stand there when its last moment is posted
and can be compared with what was written then. Those of records that were there before come at the end; what is in the
books is not posted anew for them.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator
from dataclasses import dataclass, field
from datetime import datetime
from itertools import islice
from typing import TypeVar

from batches.loading.matching import same
from batches.loading.tables import BadRow, Line, Table
from batches.models import Reading, Record
from batches.records.readings import add_readings, check_reading
from batches.sheets.sheet import Field, Kind
from distillery.people.models import Person

BATCH = 500
COLUMNS = ("record", "at", "quantity", "value")
_FIGURE = Field(name="value", label="Value", kind=Kind.NUMBER)

Named = TypeVar("Named")
Row = tuple[datetime | str, str, str]
There = dict[tuple[int, datetime, str], set[str]]


@dataclass(slots=True)
class ReadingsLoad:
    """The readings of a table by record, and how many were added or were there already.

    `hand` gives the person in whose name they are written, asked only if there is something to write.
    """

    table: Table
    bad: list[BadRow]
    hand: Callable[[], Person]
    written_at: datetime
    added: int = 0
    passed_over: int = 0
    _waiting: dict[str, list[Line]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Gathers the rows that have every cell by record; what is blank in the others is a bad row."""
        for line in self.table.lines:
            missing = [name for name in COLUMNS if name in self.table.columns and name not in line.cells]
            self.bad += [BadRow(self.table.file, line.row, name, f"The {name} is blank.") for name in missing]
            if all(name in line.cells for name in COLUMNS):
                self._waiting.setdefault(line.cells["record"], []).append(line)

    def add_to(self, record: Record) -> None:
        """Adds the readings of one record in order of time, those that wait for it."""
        lines = self._waiting.pop(record.number, None)
        if lines:
            self._add(record, lines, _there([record]))

    def add_rest(self, failed: Collection[str]) -> None:
        """Adds the readings of records that were there before. `failed` are records that came to nothing, whose
        readings are left out quietly.
        """
        records = {
            record.number: record
            for numbers in _batches(self._waiting)
            for record in Record.objects.filter(number__in=numbers)
        }
        there = _there(records.values())
        for number, lines in self._waiting.items():
            if number in records:
                self._add(records[number], lines, there)
            elif number not in failed:
                sentence = f"There is no record {number}."
                for line in lines:
                    self.bad.append(BadRow(self.table.file, line.row, "record", sentence))
        self._waiting = {}

    def _add(self, record: Record, lines: list[Line], there: There) -> None:
        fresh: list[tuple[datetime, str, str]] = []
        for line in lines:
            at, quantity, value = (line.cells[name] for name in COLUMNS[1:])
            moment, problems = check_reading(record, at, quantity, value)
            self.bad += [BadRow(self.table.file, line.row, one.field, one.sentence) for one in problems]
            if moment is None or problems:
                continue
            known = there.get((record.pk, moment, quantity))
            if known is None:
                fresh.append((moment, quantity, value))
            elif any(same(_FIGURE, value, other) for other in known):
                self.passed_over += 1
            else:
                said = ", ".join(sorted(known))
                sentence = f"{record.number} has {said} for {quantity} at that time; correct it on its page, with the "
                self.bad.append(BadRow(self.table.file, line.row, "value", f"{sentence}reason."))
        if fresh:
            rows: list[Row] = sorted(fresh, key=lambda row: row[0])
            add_readings(record, rows, self.hand(), written_at=self.written_at, sure=True)
            self.added += len(fresh)


def _there(records: Collection[Record]) -> There:
    found: There = {}
    for some in _batches(records):
        for pk, at, quantity, value in Reading.objects.filter(record__in=some).values_list(
            "record_id", "at", "quantity", "value"
        ):
            found.setdefault((pk, at, quantity), set()).add(value)
    return found


def _batches(names: Iterable[Named]) -> Iterator[list[Named]]:
    """So many at a time as one question to the database may name."""
    names = iter(names)
    while some := list(islice(names, BATCH)):
        yield some
