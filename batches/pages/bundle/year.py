"""A year of closed months kept apart from the program: paper, tables, ledger, and a digest of every file.

It is an officer's bundle of the months of the year that the books have. Nothing of it needs the program: the document
is a PDF, the tables are text, and `sha256sum --check` and the verifier in it run anywhere.
"""

from __future__ import annotations

import hashlib
from datetime import datetime
from pathlib import Path
from typing import Final

from batches.pages.bundle.making import Made, Told, make_bundle
from batches.pages.bundle.months import Months, NoSuchMonths, months_of, periods_in
from batches.returns.months import span_of
from distillery.clock.reading import books_today
from ledger.periods.calendar import Calendar, is_closed
from ledger.statements.month import known_periods

DIGESTS: Final = "digests.sha256"
AT_ONCE: Final = 1 << 20


def months_of_year(year: int) -> Months:
    """The months of a year that the books have, every period of them closed. Raises NoSuchMonths."""
    if year >= books_today().year:
        raise NoSuchMonths(f"{year} is not over by the clock of the books; a year is archived once it is closed.")
    calendar = Calendar.read()
    known = set(known_periods(calendar))
    months = [span_of(f"{year:04d}-{month:02d}") for month in range(1, 13)]
    held = [span for span in months if known & set(periods_in(span))]
    if not held:
        raise NoSuchMonths(f"The books have nothing in {year}.")
    for span in held:
        for period in periods_in(span):
            if period in known and not is_closed(period):
                raise NoSuchMonths(
                    f"{calendar.name_of(period)} is not closed; a year is archived once all of it is. Close it first."
                )
    return months_of(held[0].code, held[-1].code)


def archive_year(year: int, folder: Path, *, printed_at: datetime, printed_by: str, told: Told) -> tuple[Made, int]:
    """Writes the archive into a folder that is empty or not there yet; gives what it made and how many files.

    Raises NoSuchMonths, FolderNotEmpty, OSError.
    """
    made = make_bundle(months_of_year(year), folder, printed_at=printed_at, printed_by=printed_by, told=told)
    files = sorted(path for path in folder.rglob("*") if path.is_file())
    with (folder / DIGESTS).open("w", encoding="utf-8", newline="\n") as digests:
        for path in files:
            digests.write(f"{_digest(path)}  {path.relative_to(folder).as_posix()}\n")
    return made, len(files)


def _digest(file: Path) -> str:
    """SHA-256 (FIPS 180-4) over the bytes of a file."""
    with file.open("rb") as held:
        return hashlib.file_digest(held, "sha256").hexdigest()
