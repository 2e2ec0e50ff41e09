"""A trace on paper: the drawing of each side as on the page, and the lists, as the books stood."""

from __future__ import annotations

from datetime import datetime
from typing import Final

from batches.pages.tracing.drawn import AHEAD, BEHIND, strips_of
from batches.pages.tracing.lists import AheadTable, BehindTable, NotKnownTable, in_order
from batches.tracing.document import as_document
from batches.tracing.trace import Trace
from distillery import figures
from distillery.clock.reading import books_now
from distillery.lists.tables import HouseTable
from distillery.printing.blocks import Block, Heading, Paragraph
from distillery.printing.digest import digest_of, digest_statement
from distillery.printing.document import Part, print_document
from distillery.printing.drawn.picture import Picture
from distillery.printing.furniture import Furniture
from distillery.printing.house import impression, site
from distillery.printing.tabled.columns import Column, figure_column
from distillery.printing.tabled.tables import FigureTable

# Lines of a list on paper; what is more is said, and is in the files.
MOST_LINES: Final = 400
MIXED: Final = "Contents of a vessel are taken as well mixed: whatever leaves it carries the mix that was in it."


def trace_pdf(trace: Trace, *, printed_at: datetime, printed_by: str) -> bytes:
    """The PDF, landscape."""
    digest = trace_digest(trace)
    blocks: list[Block] = [Paragraph(as_the_books_stood()), Paragraph(MIXED)]
    for side, caption in ((BEHIND, "What lies behind it"), (AHEAD, "What came of it")):
        blocks += pictures_of(trace, side, caption)
    blocks += list_blocks(BehindTable(in_order(trace.back)))
    if trace.not_known:
        blocks += list_blocks(NotKnownTable(trace.not_known))
    blocks += [*list_blocks(AheadTable(in_order(trace.forward))), digest_statement(digest)]
    furniture = Furniture(site(), "Trace", trace.start.ref, 0, impression(printed_at, printed_by), digest)
    return print_document([Part(furniture, blocks, landscape=True)])


def trace_digest(trace: Trace) -> str:
    """The digest at the foot of it: of its figures, not of how they are drawn."""
    return digest_of(as_document(trace))


def pictures_of(trace: Trace, side: str, caption: str) -> list[Picture]:
    """The drawing of one side, in as many strips as it takes, all at one scale."""
    strips = tuple(map(str, strips_of(trace, side)))
    of = [f", {number} of {len(strips)}" if len(strips) > 1 else "" for number in range(1, len(strips) + 1)]
    return [Picture(strip, f"{caption}{part}", strips) for strip, part in zip(strips, of, strict=True)]


def as_the_books_stood() -> str:
    """By which moment of the books a paper is true."""
    return f"As the books stood at {figures.moment(books_now(), year=True)}."


def list_blocks(table: HouseTable) -> list[Block]:
    """A list under its caption, its first lines where it is long."""
    rows, more = table.first_rows(MOST_LINES)
    columns = tuple(
        figure_column(one.label, unit=one.unit) if one.numeric else Column(one.label, one.unit)
        for one in table.page_columns
    )
    lines = [tuple(cell.text for cell in row.cells) for row in rows]
    blocks: list[Block] = [Heading(table.caption), FigureTable(columns, lines, none=table.nothing)]
    if more:
        blocks.append(Paragraph(f"The first {MOST_LINES} lines; the file (CSV or XLSX) has all of them."))
    return blocks
