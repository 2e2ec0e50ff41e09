"""What a step makes of what is written on a record, as a page and paper show it: worked out anew, and never posted."""

from __future__ import annotations

from datetime import datetime

from batches.pages.records.shown import RecordAsWritten
from batches.sheets.site import Site
from batches.sheets.typed.completed import Completed
from batches.sheets.typed.read_sheet import read_so_far
from distillery.charts.pictures import Picture, pictured
from distillery.charts.plots import Plot
from distillery.clock.reading import site_day
from distillery.pages import Cell, Column, Fact, Row, Table


def as_it_stands(written: RecordAsWritten, site: Site) -> Completed:
    """What stands on a record, read once for all that is worked out of it; each gauge is measured once in it."""
    sheet, record = written.sheet, written.record
    return read_so_far(
        sheet, written.typed, written.rows, site=site, number=record.number, day=site_day(record.happened_from)
    )


def results_of(standing: Completed, now: datetime) -> list[Fact]:
    """The results of a record as it stands, at a moment; nothing where its step makes none."""
    return standing.sheet.results(standing, now) if standing.sheet.results is not None else []


def plots_of(standing: Completed, now: datetime) -> list[Plot]:
    """What is drawn of a record besides its readings against time; nothing where its step draws nothing."""
    found = standing.sheet.pictures(standing, now) if standing.sheet.pictures is not None else []
    return [plot for plot in found if not plot.is_empty]


def pictures_of(standing: Completed, now: datetime) -> list[Picture]:
    """The same as drawings for a page, each with its table."""
    return [pictured(plot) for plot in plots_of(standing, now)]


def results_table(facts: list[Fact]) -> Table | None:
    """The same as a table; None of nothing."""
    if not facts:
        return None
    return Table(
        "What it comes to",
        (Column("What"), Column("Figure", numeric=True), Column("Unit"), Column("Said of it")),
        [
            Row([Cell(one.label), Cell(one.text, href=one.href, state=one.state), Cell(one.unit), Cell(one.note)])
            for one in facts
        ],
        empty="Nothing can be worked out yet.",
    )
