"""Tables of a month as text files: read with their row numbers, and what is wrong with them said row by row.

Comma-separated, UTF-8, one header. Rows are numbered as a person sees them, the header being row 1.
"""

from __future__ import annotations

import csv
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

# A reading a minute of five stills makes fewer in a month; beyond it memory would grow without bound.
MOST_ROWS = 250_000
MOST_BYTES = 50_000_000
IN_PARTS = "A month has far fewer; check that this is the right file, or load it in parts."
NUL = "\0"


@dataclass(frozen=True, slots=True, order=True)
class BadRow:
    """What is wrong in one place: file, row (0: the file as a whole), column, and a sentence."""

    file: str
    row: int
    column: str
    reason: str

    def __str__(self) -> str:
        place = self.file + (f", row {self.row}" if self.row else "") + (f", {self.column}" if self.column else "")
        return f"{place}: {self.reason}"


@dataclass(frozen=True, slots=True)
class Line:
    """One row: its number and its cells by column, blanks left out."""

    row: int
    cells: dict[str, str]


@dataclass(frozen=True, slots=True)
class Table:
    """One file as read: `plant/vessels.csv`, the columns it has, and its rows."""

    file: str
    columns: tuple[str, ...]
    lines: tuple[Line, ...]


class Source(Protocol):
    """Where the tables of a load come from, and who is told which of their rows the site has already."""

    @property
    def is_a_month(self) -> bool:
        """True where every table a month cannot do without must be there, and no other."""
        ...

    def table(self, file: str, *, known: Collection[str], needed: Collection[str], bad: list[BadRow]) -> Table | None:
        """A table by its file, `plant/vessels.csv`; None where there is none. Adds to `bad` all that cannot be read."""
        ...

    def has(self, file: str) -> bool:
        """True where there is such a table, readable or not."""
        ...

    def logs(self) -> Iterable[str]:
        """The names of the log's tables that are there, known or not."""
        ...

    def called(self, file: str, column: str) -> str:
        """What the people who wrote the table call one of its columns."""
        ...

    def note_there(self, file: str, row: int) -> None:
        """Notes that the site has what this row says."""
        ...


@dataclass(frozen=True, slots=True)
class Folder:
    """A month's folder as the source of a load."""

    path: Path
    is_a_month: bool = True

    def table(self, file: str, *, known: Collection[str], needed: Collection[str], bad: list[BadRow]) -> Table | None:
        """As `Source`."""
        return read_table(self.path, file, known=known, needed=needed, bad=bad)

    def has(self, file: str) -> bool:
        """As `Source`."""
        return (self.path / file).exists()

    def logs(self) -> Iterable[str]:
        """As `Source`."""
        return sorted(path.stem for path in (self.path / "log").glob("*.csv"))

    def called(self, file: str, column: str) -> str:
        """The column itself: whoever writes a folder knows it by that."""
        return column

    def note_there(self, file: str, row: int) -> None:
        """Nothing: they are only counted."""


def read_table(
    folder: Path, file: str, *, known: Collection[str], needed: Collection[str], bad: list[BadRow]
) -> Table | None:
    """A table of the folder, or None where there is no such file. Adds to `bad` all that cannot be read."""
    path = folder / file
    if not path.is_file():
        if path.is_symlink() or path.exists():
            what = "a folder" if path.is_dir() else "a link that leads to no file" if path.is_symlink() else "no file"
            bad.append(BadRow(file, 0, "", f"In its place stands {what}; put the table there, or take it away."))
        return None
    try:
        if path.stat().st_size > MOST_BYTES:
            bad.append(BadRow(file, 0, "", f"The file is larger than {MOST_BYTES // 1_000_000} MB. {IN_PARTS}"))
            return None
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        bad.append(BadRow(file, 0, "", f"The file cannot be read as UTF-8 text: {error}."))
        return None
    lines_of_text = text.splitlines()
    if len(lines_of_text) > MOST_ROWS:
        bad.append(BadRow(file, 0, "", f"The file has {len(lines_of_text)} rows, more than {MOST_ROWS}. {IN_PARTS}"))
        return None
    if NUL in text:
        for number, line in enumerate(lines_of_text, start=1):
            if NUL in line:
                bad.append(BadRow(file, number, "", "The row holds a character (NUL) that no text holds; remove it."))
        return None
    try:
        rows = list(csv.reader(lines_of_text))
    except csv.Error as error:
        bad.append(BadRow(file, 0, "", f"The file is no table of comma-separated cells: {error}."))
        return None
    if not rows or not any(rows[0]):
        bad.append(BadRow(file, 1, "", f"The file is empty; its first row names the columns: {', '.join(known)}."))
        return None
    columns = tuple(cell.strip() for cell in rows[0])
    _check_columns(file, columns, known, needed, bad)
    lines = []
    for number, row in enumerate(rows[1:], start=2):
        cells = [cell.strip() for cell in row]
        if not any(cells):
            continue
        if len(cells) > len(columns) and any(cells[len(columns) :]):
            bad.append(BadRow(file, number, "", f"The row has {len(cells)} cells for {len(columns)} columns."))
            continue
        lines.append(
            Line(number, {name: cell for name, cell in zip(columns, cells, strict=False) if cell and name in known})
        )
    return Table(file, columns, tuple(lines))


def _check_columns(
    file: str, columns: tuple[str, ...], known: Collection[str], needed: Collection[str], bad: list[BadRow]
) -> None:
    for name in dict.fromkeys(columns):
        if name not in known:
            bad.append(BadRow(file, 1, name, f"There is no column '{name}' in this table; it has: {', '.join(known)}."))
        elif columns.count(name) > 1:
            bad.append(BadRow(file, 1, name, f"The column '{name}' stands {columns.count(name)} times."))
    for name in needed:
        if name not in columns:
            bad.append(BadRow(file, 1, name, f"The column '{name}' is missing."))
