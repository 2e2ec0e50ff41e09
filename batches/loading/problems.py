"""What is wrong with a month's folder, gathered: causes before what follows from them, and only so many.

Where a table of the plant is wrong, every row of the log that names what it lists looks wrong too. Then it is said what
is wrong with the plant, and what in the log is wrong by itself; what only follows is left out.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Final, SupportsIndex

from batches.loading.entries import Entry
from batches.loading.tables import BadRow, Table
from batches.sheets.sheet import Field, Kind
from batches.sheets.typed.moments import Unreadable
from batches.sheets.typed.parsing import read

# Where so much is wrong, the wrong folder was named or the file has gone to pieces; more would tell nobody more.
MOST: Final = 10_000
PLANT: Final = "plant/"
# The table that lists what a column of another one names.
LISTED_IN: Final = {"vessel": "plant/vessels.csv", "instrument": "plant/instruments.csv"}
# The tables that list something by its code, and the column of the codes.
LISTS: Final = {
    "vessels": "vessel",
    "instruments": "instrument",
    "empty_casks": "number",
    "maturing_casks": "number",
}
# Kinds whose texts are read without a look at the plant or at other records.
BY_ITSELF: Final = frozenset({Kind.NUMBER, Kind.WHOLE, Kind.MOMENT, Kind.CHOICE, Kind.TEXT})


class TooMany(Exception):
    """So much is wrong that looking further was given up."""


class Problems(list[BadRow]):
    """A list of bad rows that raises TooMany once it holds MOST."""

    def append(self, one: BadRow) -> None:
        """Adds one. Raises TooMany."""
        super().append(one)
        if len(self) >= MOST:
            raise TooMany

    def extend(self, more: Iterable[BadRow]) -> None:
        """Adds several, one after another. Raises TooMany."""
        for one in more:
            self.append(one)

    def __iadd__(self, more: Iterable[BadRow]) -> Problems:  # type: ignore[misc,override]
        self.extend(more)
        return self

    def insert(self, index: SupportsIndex, one: BadRow) -> None:
        """Adds one at a place. Raises TooMany."""
        super().insert(index, one)
        if len(self) >= MOST:
            raise TooMany

    @property
    def of_the_plant(self) -> bool:
        """True where something is wrong with a table of the plant."""
        return any(one.file.startswith(PLANT) for one in self)

    def unlisted(self, tables: Mapping[str, Table]) -> set[str]:
        """Codes of vessels, casks and instruments, small letters, whose own row or heads are bad in a table of the
        plant."""
        bad = {(one.file, one.row) for one in self}
        return {
            line.cells[column].casefold()
            for name, column in LISTS.items()
            if (table := tables.get(name)) is not None
            for line in table.lines
            if column in line.cells and bad & {(table.file, line.row), (table.file, 1)}
        }


def in_order(bad: Iterable[BadRow]) -> list[BadRow]:
    """Each problem once: those of the plant first, the list of vessels and that of instruments before what names them.

    Left out is what names a vessel or instrument that is not there, where their own list has bad rows.
    """
    once = set(bad)
    wrong = {one.file for one in once}
    causes = [one for one in once if not _follows(one, wrong)]
    return sorted(causes, key=lambda one: (_rank(one.file), one))


def by_themselves(entries: Iterable[Entry]) -> Iterable[BadRow]:
    """What in rows of the log is wrong by itself, whatever the plant is: figures, times and texts that cannot be
    read."""
    for entry in entries:
        yield from _cells(entry, entry.sheet.fields, entry.values, entry.row)
        for line, row in zip(entry.lines, entry.rows, strict=True):
            yield from _cells(entry, entry.sheet.row_fields, row, line.row)


def _cells(entry: Entry, fields: Sequence[Field], cells: dict[str, str], row: int) -> Iterable[BadRow]:
    for one in fields:
        if one.kind not in BY_ITSELF or one.name not in cells:
            continue
        try:
            read(one, cells[one.name])
        except Unreadable as error:
            yield BadRow(entry.file, row, one.name, str(error))


def _follows(one: BadRow, wrong: set[str]) -> bool:
    listed = LISTED_IN.get(one.column)
    return listed is not None and listed in wrong and one.file != listed and "There is no " in one.reason


def _rank(file: str) -> int:
    if not file.startswith(PLANT):
        return len(LISTED_IN) + 1
    listed = list(LISTED_IN.values())
    return listed.index(file) if file in listed else len(listed)
