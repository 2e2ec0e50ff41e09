"""Trying a workbook and writing it: the same way through, and only what happens at its end differs.

To try is to write all of it as the forms would and to take it back, so what a trial finds in order is in order as it is
written. Whoever writes meanwhile waits for as long as it takes.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Final

from django.db.models import Sum

from batches.loading.load_folder import Load
from batches.loading.outcome import Loaded
from batches.loading.problems import Problems, TooMany
from batches.loading.workbook.opening import UnfitWorkbook, opened
from batches.loading.workbook.report import Counted, Report, RowRead, Trouble
from batches.loading.workbook.sheets import SHEETS, Column, WorkbookSheet
from batches.loading.workbook.source import FULL, WorkbookSource, read_workbook
from distillery.clock.reading import let_go
from distillery.database.retrying import retried
from distillery.people.models import Person
from ledger.enquiries.following import catch_up, deferred
from ledger.models import AccountKind, Leg
from ledger.posting.turns import turn

Say = Callable[[str], None]
WAY: Final = "bring_in"
_LONGEST_SAID: Final = 200
_ORDER: Final = {sheet.title: number for number, sheet in enumerate(SHEETS)}


class _NotKept(Exception):
    """Raised inside the turn so that nothing of it stays."""


def bring_in(path: Path, *, write: bool, person: Person | None = None, say: Say = lambda line: None) -> Report:
    """What the workbook would bring in, and, with `write` and where nothing is wrong, brings it in. Raises Busy.

    In the name of `person`, or of an account for workbooks that signs on nowhere.
    """
    try:
        book = opened(path)
        try:
            source = read_workbook(book, say)
        finally:
            book.close()
    except UnfitWorkbook as unfit:
        return Report(troubles=[Trouble("", "", str(unfit))])
    report = _through(source, write, person, say)
    if report.written:
        catch_up(lambda said, place, periods: say(said))
    return report


@retried
def _through(source: WorkbookSource, write: bool, person: Person | None, say: Say) -> Report:
    bad = Problems(source.bad)
    source.there.clear()
    report = Report()
    unlisted: set[str] = set()
    try:
        with turn(person, WAY) as (last, _seal):
            load = Load(source, bad, person=person, progress=say)
            load.unlisted |= source.unlisted
            with deferred():
                loaded = Loaded()
                try:
                    loaded = load.run()
                except TooMany:
                    report.and_more = True
                unlisted = load.unlisted
                report.opening_ul = _opening(last)
                report.ahead = loaded.ahead
                if bad or not write:
                    raise _NotKept
            report.written = True
    except _NotKept:
        pass
    finally:
        let_go()
    report.troubles = _troubles(source, bad, unlisted)
    report.rows = [row for sheet in SHEETS for row in _rows(source, sheet)]
    for sheet in SHEETS:
        there = [row.is_there for row in report.rows if row.sheet == sheet.title]
        if there:
            report.counts.append(Counted(sheet.title, there.count(False), there.count(True)))
    return report


def _opening(after: int) -> int:
    """The pure alcohol in microlitres that was posted to vessels, casks and bottles since a movement."""
    posted = Leg.objects.filter(movement__gt=after).exclude(account__kind=AccountKind.SOURCE)
    return int(posted.aggregate(sum=Sum("pure_ul"))["sum"] or 0)


def _troubles(source: WorkbookSource, bad: Problems, unlisted: set[str]) -> list[Trouble]:
    """Each problem by sheet and cell, in the order of the workbook; of one cell what was said first.

    Left out is what names a vessel or instrument whose own row is wrong: it only follows from that.
    """
    own = set(source.bad)
    seen: set[tuple[str, ...]] = set()
    found = []
    for one in (*source.bad, *(one for one in bad if one not in own)):
        sheet, cell = source.place_of(one)
        key = (sheet, cell) if one.row > 1 else (sheet, cell, one.reason)
        if (
            key in seen
            or source.is_missing(one)
            or (one.reason.startswith("There is no ") and source.cell_of(one).casefold() in unlisted)
        ):
            continue
        seen.add(key)
        found.append((_ORDER.get(sheet, len(_ORDER)), one.row, len(cell), Trouble(sheet, cell, one.reason)))
    return [trouble for *_, trouble in sorted(found, key=lambda one: (*one[:3], one[3].cell))]


def _with_unit(text: str, column: Column) -> str:
    return f"{text} {column.field.unit}" if column.field.unit and text[-1:].isdigit() else text


def _rows(source: WorkbookSource, sheet: WorkbookSheet) -> list[RowRead]:
    rows = []
    for file in sheet.files:
        table = source.tables.get(file)
        for line in table.lines if table is not None else ():
            known = [line.cells[name] for name in sheet.known_by if name in line.cells]
            told = [
                f"{column.field.label} {_with_unit(text, column)}"
                for column in sheet.columns
                if column.name not in sheet.known_by and (text := line.cells.get(source.here(file, column.name)))
            ]
            # A full cask is met twice: on the plant, and in the books.
            met = 2 if file == FULL else 1
            is_there = source.there.get((file, line.row), 0) >= met
            rows.append(RowRead(sheet.title, line.row, ", ".join(known), "; ".join(told)[:_LONGEST_SAID], is_there))
    return sorted(rows, key=lambda one: one.row)
