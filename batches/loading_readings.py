"""The table of readings of a month: one reading a row, added to records that are there, each only once."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass
from datetime import datetime

from batches.matching import same
from batches.models import Reading, Record
from batches.readings import add_readings, check_reading
from batches.sheet import Field, Kind
from batches.tables import BadRow, Line, Table
from distillery.people.models import Person

COLUMNS = ("record", "at", "quantity", "value")
_FIGURE = Field(name="value", label="Value", kind=Kind.NUMBER)

Row = tuple[datetime | str, str, str]


@dataclass(slots=True)
class LoadedReadings:
    """How many readings were added, and how many were there already."""

    added: int = 0
    passed_over: int = 0


def load_readings(
    table: Table, *, failed: Collection[str], bad: list[BadRow], hand: Callable[[], Person], written_at: datetime
) -> LoadedReadings:
    """Adds the readings of a table. `failed` are records that came to nothing, whose readings are left out quietly;
    `hand` gives the person in whose name they are written, asked only if there is something to write.
    """
    loaded = LoadedReadings()
    numbers = {line.cells["record"] for line in table.lines if "record" in line.cells}
    records = {record.number: record for record in Record.objects.filter(number__in=numbers)}
    there = _there(records)
    fresh: dict[str, list[Row]] = {}
    for line in _whole_lines(table, bad):
        number, at, quantity, value = (line.cells[name] for name in COLUMNS)
        record = records.get(number)
        if record is None:
            if number not in failed:
                bad.append(BadRow(table.file, line.row, "record", f"There is no record {number}."))
            continue
        moment, problems = check_reading(record, at, quantity, value)
        bad += [BadRow(table.file, line.row, problem.field, problem.sentence) for problem in problems]
        if moment is None or problems:
            continue
        known = there.get((record.pk, moment, quantity))
        if known is None:
            fresh.setdefault(number, []).append((moment, quantity, value))
        elif any(same(_FIGURE, value, other) for other in known):
            loaded.passed_over += 1
        else:
            said = ", ".join(sorted(known))
            sentence = f"{number} has {said} for {quantity} at that time; correct it on its page, with the reason."
            bad.append(BadRow(table.file, line.row, "value", sentence))
    for number, rows in fresh.items():
        add_readings(records[number], rows, hand(), written_at=written_at)
        loaded.added += len(rows)
    return loaded


def _there(records: dict[str, Record]) -> dict[tuple[int, datetime, str], set[str]]:
    found: dict[tuple[int, datetime, str], set[str]] = {}
    for pk, at, quantity, value in Reading.objects.filter(record__in=records.values()).values_list(
        "record_id", "at", "quantity", "value"
    ):
        found.setdefault((pk, at, quantity), set()).add(value)
    return found


def _whole_lines(table: Table, bad: list[BadRow]) -> Iterator[Line]:
    """The rows that have every cell; what is blank in the others is a bad row."""
    for line in table.lines:
        missing = [name for name in COLUMNS if name in table.columns and name not in line.cells]
        bad += [BadRow(table.file, line.row, name, f"The {name} is blank.") for name in missing]
        if all(name in line.cells for name in COLUMNS):
            yield line
