"""What a workbook would bring in, or brought: every problem by sheet and cell, every row, and what it comes to."""

from __future__ import annotations

from pathlib import Path
from typing import Final

import msgspec


class Trouble(msgspec.Struct, frozen=True):
    """One problem: the sheet, the cell, and a sentence."""

    sheet: str
    cell: str
    sentence: str

    def __str__(self) -> str:
        place = f"{self.sheet}, {self.cell}" if self.sheet else "The workbook"
        return f"{place}: {self.sentence}"


class RowRead(msgspec.Struct, frozen=True):
    """One row: its sheet and number, what it is of, what it says of it, and whether the site has it already."""

    sheet: str
    row: int
    what: str
    says: str
    is_there: bool


class Counted(msgspec.Struct, frozen=True):
    """A sheet's rows: how many are new and how many are there already."""

    sheet: str
    new: int
    there: int


class Report(msgspec.Struct):
    """All that came of a workbook. `opening_ul` is the pure alcohol that its rows open the books with, microlitres."""

    troubles: list[Trouble] = msgspec.field(default_factory=list)
    rows: list[RowRead] = msgspec.field(default_factory=list)
    counts: list[Counted] = msgspec.field(default_factory=list)
    opening_ul: int = 0
    # What of it lies ahead of the books' clock, in a sentence or blank.
    ahead: str = ""
    written: bool = False
    # So much was wrong that looking further was given up.
    and_more: bool = False

    @property
    def new(self) -> int:
        """How many rows the site does not have yet."""
        return sum(one.new for one in self.counts)

    @property
    def there(self) -> int:
        """How many rows the site has already."""
        return sum(one.there for one in self.counts)


REPORT_NAME: Final = "what the workbook holds.json"


def keep_report(report: Report, path: Path) -> None:
    """Writes a report to a file."""
    path.write_bytes(msgspec.json.encode(report))


def read_report(path: Path) -> Report:
    """A report as it was kept. Raises OSError, msgspec.DecodeError."""
    return msgspec.json.decode(path.read_bytes(), type=Report)
