"""The blank sheets of a step, for when the PC is down: the boxes of the screen in the same order, to be written in ink.

A short sheet has its fields across the page, one record a row; a long one has them one under another, one record a
sheet. What repeats (casks, vessels, readings along the way) has a sheet of rows of its own.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from batches.pages.records.shown import unit_of
from batches.pages.writing.boxes import usual_range
from batches.sheets.fields import text, when
from batches.sheets.sheet import Field, Kind, Sheet
from distillery.printing.blocks import Block, Caution, Heading
from distillery.printing.document import Part, print_document
from distillery.printing.documents.blank_sheet import BlankColumn, BlankSheet, Slip, blank_sheets_pdf
from distillery.printing.furniture import Furniture, Impression
from distillery.printing.house import impression, site
from distillery.printing.signing import CorrectionRule
from distillery.printing.tabled.columns import Column
from distillery.printing.tabled.tables import FigureTable

MOST_ACROSS = 15
COLUMN_MM = 22.0
TEXT_COLUMN_MM = 30.0
# Two lines, so that there is room for a pen.
ROOM_TO_WRITE = " \n "

# Beside the readings of a gauge that is another one unless it was taken apart.
APART = " Only if gauged apart."

READ_AT = when("at", "Happened, date and time")
READ_BY = text("person", "Read by")


def blank_sheet_pdf(
    sheet: Sheet, serials: Sequence[str], *, printed_at: datetime, printed_by: str, issued_to: str = ""
) -> bytes:
    """The sheet of a step, once for each serial number; `issued_to` is who gets them, where that is known."""
    printing = impression(printed_at, printed_by)
    if not sheet.row_fields and len(sheet.fields) <= MOST_ACROSS:
        return blank_sheets_pdf(_across(sheet, sheet.fields, serials, issued_to), printing)
    numbered = [f"{serial}, {place} of {len(serials)}" for place, serial in enumerate(serials, 1)]
    return print_document([_downwards(sheet, serial, issued_to, printing) for serial in numbered])


def blank_lines_pdf(
    sheet: Sheet, serials: Sequence[str], *, printed_at: datetime, printed_by: str, issued_to: str = ""
) -> bytes:
    """The sheet for what repeats at a step. Raises ValueError where nothing does."""
    if not has_lines(sheet):
        raise ValueError(f"Nothing repeats on a {sheet.title.lower()}; print its blank sheet.")
    fields = sheet.row_fields or (READ_AT, *sheet.readings, READ_BY)
    return blank_sheets_pdf(_across(sheet, fields, serials, issued_to), impression(printed_at, printed_by))


def has_lines(sheet: Sheet) -> bool:
    """True where a step has repeating lines or readings along the way."""
    return bool(sheet.row_fields or sheet.readings)


def _across(sheet: Sheet, fields: Sequence[Field], serials: Sequence[str], issued_to: str) -> BlankSheet:
    columns = tuple(BlankColumn(one.label, unit_of(one), _width(one)) for one in fields)
    return BlankSheet(
        site(),
        sheet.printed_title or sheet.title,
        columns,
        tuple(serials),
        caution=sheet.caution,
        issued_to=issued_to,
    )


def _downwards(sheet: Sheet, serial: str, issued_to: str, printing: Impression) -> Part:
    title = sheet.printed_title or sheet.title
    furniture = Furniture(site(), title, f"Sheet {serial}", 0, printing)
    blocks: list[Block] = [Caution(sheet.caution)] if sheet.cautions else []
    columns = (Column("What", width_mm=78), Column("Written", width_mm=56), Column("Unit"), Column("Usual"))
    for section in sheet.sections:
        apart = {one.name for gauge in section.gauges if gauge.same_as for one in gauge.fields}
        rows = [
            (one.label, ROOM_TO_WRITE, unit_of(one), usual_range(one) + APART * (one.name in apart))
            for one in section.fields
        ]
        blocks += [Heading(section.heading), FigureTable(columns, rows)]
    return Part(furniture, blocks, False, [CorrectionRule(), Slip(f"{title}, sheet {serial}", issued_to)])


def _width(field: Field) -> float:
    return TEXT_COLUMN_MM if field.kind in (Kind.TEXT, Kind.MOMENT) else COLUMN_MM
