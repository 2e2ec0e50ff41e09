"""What a record comes to or asks for beside its books (`Sheet.reckons`), as tables of a page and of paper."""

from __future__ import annotations

from collections.abc import Sequence

from batches.pages.records.shown import RecordAsWritten
from batches.sheets.reckoned import Head, Reckoning
from batches.sheets.site import Site
from batches.sheets.typed.completed import Completed
from batches.sheets.typed.read_sheet import read_so_far
from batches.sheets.typed.values import Ungaugeable
from distillery import pages
from distillery.alcoholometry.errors import AlcoholometryError
from distillery.printing.cells import Cell
from distillery.printing.columns import Column, figure_column
from distillery.printing.record_sheet import RecordSection
from distillery.printing.tables import FigureTable
from distillery.process.product_names import Outcome
from distillery.rules.in_force import NoRuleInForce

WORDS = {Outcome.PASS: "Pass", Outcome.FAIL: "Fail", Outcome.NOT_PROVEN: "Not proven"}
# What passes looks like nothing.
STATES = {
    Outcome.FAIL: pages.State(pages.Kind.OUT, WORDS[Outcome.FAIL]),
    Outcome.NOT_PROVEN: pages.State(pages.Kind.MISSING, WORDS[Outcome.NOT_PROVEN]),
}
COMES_TO = Head("Comes to")


def reckoned(written: Completed) -> list[Reckoning]:
    """Each reckoning that can be made of what was written so far; the others are left out."""
    found = []
    for reckon in written.sheet.reckons:
        try:
            one = reckon(written)
        except (Ungaugeable, AlcoholometryError, NoRuleInForce):
            # What is not written yet, or cannot be, is said where it is typed.
            continue
        if one is not None and one.lines:
            found.append(one)
    return found


def reckoned_of(written: RecordAsWritten) -> list[Reckoning]:
    """What a record comes to, as it stands."""
    if not written.sheet.reckons:
        return []
    site = Site()
    return reckoned(read_so_far(written.sheet, written.typed, written.rows, site=site, number=written.record.number))


def as_tables(found: Sequence[Reckoning]) -> list[pages.Table]:
    """Tables of a page, each captioned by its heading."""
    return [_table(one) for one in found]


def as_sections(found: Sequence[Reckoning]) -> list[RecordSection]:
    """Parts of a printed record."""
    return [_section(one) for one in found]


def _table(one: Reckoning) -> pages.Table:
    heads = _heads(one)
    columns = [pages.Column(head.label, numeric=head.figure, unit=head.unit) for head in heads]
    rows = []
    for line in one.lines:
        cells = [pages.Cell(text) for text in line.cells]
        if one.checks:
            state = STATES.get(line.outcome) if line.outcome is not None else None
            word = WORDS[Outcome.PASS] if line.outcome == Outcome.PASS else ""
            cells.insert(1, pages.Cell(word, state=state))
        rows.append(pages.Row(cells))
    return pages.Table(one.heading, columns, rows, empty="", note=one.note)


def _section(one: Reckoning) -> RecordSection:
    columns = tuple(
        figure_column(head.label, unit=head.unit) if head.figure else Column(head.label, head.unit)
        for head in _heads(one)
    )
    rows: list[tuple[Cell, ...]] = []
    for line in one.lines:
        cells: list[Cell] = list(line.cells)
        if one.checks:
            cells.insert(1, WORDS[line.outcome] if line.outcome is not None else "")
        rows.append(tuple(cells))
    heading = f"{one.heading} ({one.note})" if one.note else one.heading
    return RecordSection(heading, table=FigureTable(columns, rows))


def _heads(one: Reckoning) -> list[Head]:
    heads = list(one.heads)
    if one.checks:
        heads.insert(1, COMES_TO)
    return heads
