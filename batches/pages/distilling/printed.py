"""A distillation period on paper: what it came to, its pictures, its runs and mashes."""

from __future__ import annotations

from datetime import datetime

from batches.distilling.facts import period_facts
from batches.distilling.in_the_way import in_the_way
from batches.distilling.yields import Yield
from batches.pages.distilling.pictures import plots_of
from batches.pages.distilling.tables import MashOfPeriodTable, RunOfPeriodTable, plain
from distillery import figures, pages
from distillery.charts.plots import plot_chart
from distillery.lists.tables import HouseTable
from distillery.printing.blocks import Block, Heading, Item, ItemList, Paragraph
from distillery.printing.digest import digest_of, digest_statement
from distillery.printing.document import Part, print_document
from distillery.printing.drawn.picture import Picture
from distillery.printing.furniture import Furniture
from distillery.printing.house import impression, site
from distillery.printing.signing import MEASURED_CHECKED_MANAGER, Signatures
from distillery.printing.tabled.columns import Column, figure_column
from distillery.printing.tabled.tables import FigureTable

TITLE = "Distillation period"


def period_pdf(worked: Yield, *, printed_at: datetime, printed_by: str) -> bytes:
    """The PDF, upright."""
    period, digest = worked.period, digest_of(plain(worked))
    ended = figures.moment(period.ended_at, year=True) if period.ended_at else "still open"
    facts = period_facts(worked)
    blocks: list[Block] = [
        ItemList(
            (
                Item("Class of spirits", period.spirits),
                Item("Opened", figures.moment(period.opened_at, year=True)),
                Item("Ended", ended),
                *(
                    Item("Longer allowed by", period.typed[name])
                    for name in ("longer_allowed",)
                    if name in period.typed
                ),
            ),
            across=1,
        ),
        Heading("What it came to"),
        FigureTable(
            (Column("Figure"), figure_column("Value"), Column("Unit"), Column("Rests on")),
            [(one.label, one.text, one.unit, _said(one)) for one in facts],
        ),
    ]
    left = in_the_way(period.spirits, period.opened_at, period.until) if period.ended_at is None else []
    if left:
        blocks += [Heading("In the way of its end"), *(Paragraph(one.sentence) for one in left)]
    blocks += [Picture(plot_chart(plot), plot.title) for plot in plots_of(worked)]
    blocks += [Heading("Its runs"), _table(RunOfPeriodTable(worked.runs))]
    blocks += [Heading("Its mashes"), _table(MashOfPeriodTable(worked.mashes))]
    blocks += [digest_statement(digest), Signatures(MEASURED_CHECKED_MANAGER, with_correction_rule=False)]
    furniture = Furniture(site(), TITLE, period.number, 0, impression(printed_at, printed_by), digest)
    return print_document([Part(furniture, blocks)])


def _said(fact: pages.Fact) -> str:
    return f"{fact.state.word}: {fact.note}" if fact.state else fact.note


def _table(table: HouseTable) -> FigureTable:
    whole = table.whole()
    columns = tuple(
        figure_column(one.label, unit=one.unit) if one.numeric else Column(one.label, one.unit) for one in whole.columns
    )
    return FigureTable(columns, [tuple(cell.text for cell in row.cells) for row in whole.rows], none=table.nothing)
