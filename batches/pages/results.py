"""What a step makes of what is written on a record (`Sheet.results`, `Sheet.pictures`), as pages and paper show it:
worked out anew, and never posted.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from batches.pages.records.shown import RecordAsWritten
from batches.sheets.results import Line, Result
from batches.sheets.site import Site
from batches.sheets.typed.completed import Completed
from batches.sheets.typed.read_sheet import read_so_far
from batches.sheets.typed.values import Ungaugeable
from distillery import pages
from distillery.alcoholometry.errors import AlcoholometryError
from distillery.charts.pictures import Picture, pictured
from distillery.clock.reading import site_day
from distillery.printing.documents.record_sheet import RecordSection
from distillery.printing.tabled.cells import Cell
from distillery.printing.tabled.columns import Column, figure_column
from distillery.printing.tabled.tables import FigureTable
from distillery.rules.in_force import NoRuleInForce


def as_it_stands(written: RecordAsWritten, site: Site) -> Completed:
    """What stands on a record, read once for all that is worked out of it; each gauge is measured once in it."""
    sheet, record = written.sheet, written.record
    return read_so_far(
        sheet, written.typed, written.rows, site=site, number=record.number, day=site_day(record.happened_from)
    )


def results_of(standing: Completed, now: datetime) -> list[Result]:
    """Each result that can be made of what was written so far, at a moment; the others are left out."""
    found = []
    for makes in standing.sheet.results:
        try:
            one = makes(standing, now)
        except (Ungaugeable, AlcoholometryError, NoRuleInForce):
            # What is not written yet, or cannot be, is said where it is typed.
            continue
        if one is not None and one.lines:
            found.append(one)
    return found


def pictures_of(standing: Completed, now: datetime) -> list[Picture]:
    """What is drawn of a record besides its readings against time, each drawing with its table."""
    found = standing.sheet.pictures(standing, now) if standing.sheet.pictures is not None else []
    return [pictured(plot) for plot in found if not plot.is_empty]


@dataclass(frozen=True, slots=True)
class Looked:
    """A line of a result that has a state: the state, and the line's other words in one."""

    state: pages.State
    said: str


def to_look_at(found: Sequence[Result]) -> list[Looked]:
    """The lines that have something to say, for where the tables themselves are folded."""
    return [
        Looked(line.state, " ".join(cell for cell in line.cells[:3] if cell))
        for one in found
        for line in one.lines
        if line.state is not None
    ]


def as_tables(found: Sequence[Result]) -> list[pages.Table]:
    """Tables of a page, each captioned by its heading."""
    return [_table(one) for one in found]


def as_sections(found: Sequence[Result]) -> tuple[RecordSection, ...]:
    """Parts of a printed record."""
    return tuple(_section(one) for one in found)


def _table(one: Result) -> pages.Table:
    columns = [pages.Column(head.label, numeric=head.figure, unit=head.unit) for head in one.heads]
    rows = [
        pages.Row(
            [
                pages.Cell(text, line.href, line.state) if place == one.said_in else pages.Cell(text)
                for place, text in enumerate(line.cells)
            ]
        )
        for line in one.lines
    ]
    return pages.Table(one.heading, columns, rows, empty="", note=one.note)


def _section(one: Result) -> RecordSection:
    columns = tuple(
        figure_column(head.label, unit=head.unit) if head.figure else Column(head.label, head.unit)
        for head in one.heads
    )
    rows = [_in_words(one, line) for line in one.lines]
    heading = f"{one.heading} ({one.note})" if one.note else one.heading
    return RecordSection(heading, table=FigureTable(columns, rows))


def _in_words(one: Result, line: Line) -> tuple[Cell, ...]:
    """The cells of a line with its state in words; not among figures, where it goes to what is said last."""
    cells: list[Cell] = list(line.cells)
    if line.state is not None:
        place = len(cells) - 1 if one.heads[one.said_in].figure else one.said_in
        cells[place] = ". ".join(part for part in (line.state.word, line.cells[place]) if part)
    return tuple(cells)
