"""The figures of a return on paper, with the sentence that nothing is filed by it."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from batches.pages.returns.goods_tables import (
    CEREALS,
    CerealTable,
    OfWhichTable,
    SpiritsTable,
    SuspensionTable,
    WarehouseLineTable,
    WarehouseTable,
    amount_rows,
    of_which_rows,
    suspension_rows,
    warehouse_lines,
)
from batches.pages.returns.tables import (
    DrawbackTable,
    DutyTable,
    OverTable,
    SpoiltTable,
    UnderTable,
    back_rows,
    duty_rows,
)
from batches.pages.tracing.printed import as_the_books_stood
from batches.returns.as_data import as_data
from batches.returns.figures import DRAWBACK, OVER, PREPARES, SPIRITS, SPOILT, UNDER, MonthFigures, QuarterFigures
from batches.returns.months import span_of
from distillery import figures
from distillery.lists.tables import HouseTable
from distillery.printing.blocks import Block, Heading, Item, ItemList, Paragraph
from distillery.printing.digest import digest_of, digest_statement
from distillery.printing.document import Part, print_document
from distillery.printing.furniture import Furniture, Impression
from distillery.printing.house import impression, site
from distillery.printing.paper import BOLD
from distillery.printing.signing import PREPARED_CHECKED_MANAGER, Signatures
from distillery.printing.tabled.columns import Column, figure_column
from distillery.printing.tabled.tables import FigureTable

TITLE = "Return figures"


def return_pdf(found: MonthFigures | QuarterFigures, *, printed_at: datetime, printed_by: str) -> bytes:
    """The PDF, landscape."""
    return print_document([return_part(found, impression(printed_at, printed_by))])


def return_part(found: MonthFigures | QuarterFigures, printing: Impression) -> Part:
    """The figures as a part of a document."""
    span = found.span
    held: Any = as_data(found)
    data = {name: _plain(value) for name, value in held.items()}
    digest = digest_of(data)
    due = [
        Item("Due", f"{one.rule.until if one.day is None else figures.day(one.day, year=True)}: {one.rule.said}")
        for one in span.due()
    ]
    blocks: list[Block] = [
        ItemList((Item("Of", span.name), Item("Nil return", "yes" if found.is_nil else "no"), *due), across=1),
        Paragraph(PREPARES, BOLD),
        Paragraph(as_the_books_stood()),
    ]
    for table in tables_of(found):
        blocks += _list(table)
    for sentence in found.not_known if isinstance(found, MonthFigures) else ():
        blocks.append(Paragraph(f"Not known: {sentence}"))
    blocks += [digest_statement(digest), Signatures(PREPARED_CHECKED_MANAGER)]
    furniture = Furniture(site(), TITLE, span.code, 0, printing, digest)
    return Part(furniture, blocks, landscape=True, data=data)


def tables_of(found: MonthFigures | QuarterFigures) -> list[HouseTable]:
    """Every list of the return, in the order of the page."""
    span = found.span
    if isinstance(found, QuarterFigures):
        return [
            SpiritsTable(amount_rows(span, found.made.kinds, SPIRITS), caption=f"{SpiritsTable.caption}, {span.name}"),
            OfWhichTable(of_which_rows(span, found.made), caption=f"{OfWhichTable.caption}, {span.name}"),
            CerealTable(amount_rows(span, found.made.cereals, CEREALS), caption=f"{CerealTable.caption}, {span.name}"),
        ]
    quarter = QuarterFigures(span_of(span.quarter), found.quarter) if found.quarter is not None else None
    return [
        DutyTable(duty_rows(span, found.duty)),
        UnderTable(duty_rows(span, found.under, UNDER)),
        OverTable(duty_rows(span, found.over, OVER)),
        SpoiltTable(back_rows(span, found.spoilt, SPOILT)),
        DrawbackTable(back_rows(span, found.drawback, DRAWBACK)),
        SuspensionTable(suspension_rows(span, found.suspended)),
        *(tables_of(quarter) if quarter is not None else ()),
        WarehouseTable(list(found.classes)),
        WarehouseLineTable(warehouse_lines(span, found.classes)),
    ]


def _list(table: HouseTable) -> list[Block]:
    whole = table.whole()
    columns = tuple(
        figure_column(one.label, unit=one.unit) if one.numeric else Column(one.label, one.unit) for one in whole.columns
    )
    lines = [tuple(cell.text for cell in row.cells) for row in whole.rows]
    sums = table.total_row() if lines and table.adds_up else None
    total = tuple(cell.text for cell in sums.cells) if sums is not None else None
    return [Heading(table.caption), FigureTable(columns, lines, total=total, none=table.nothing)]


def _plain(value: Any) -> Any:
    """Figures as texts, since what is hashed holds no decimal point."""
    if isinstance(value, float):
        return repr(value)
    if isinstance(value, dict):
        return {name: _plain(one) for name, one in value.items()}
    return [_plain(one) for one in value] if isinstance(value, list) else value
