"""A whole list as a file: comma-separated text and a workbook, written line by line, and paper.

Texts that a spreadsheet would take for a formula are marked as texts (`distillery.tables_out`). A list of any length is
never held in memory whole; paper has an end, and says where it stops.
"""

from __future__ import annotations

import csv
import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date, datetime
from decimal import Decimal
from tempfile import TemporaryFile
from typing import Any, Final

from django.http import FileResponse, HttpRequest, HttpResponse, HttpResponseBase, StreamingHttpResponse
from django.utils import timezone
from django.utils.text import slugify

from distillery import pages, tables_out
from distillery.lists.columns import FigureColumn, ListColumn, Plain, WholeColumn
from distillery.lists.tables import HouseTable
from distillery.people.models import Person
from distillery.printing.blocks import Block, Paragraph
from distillery.printing.digest import digest_of, digest_statement
from distillery.printing.document import Part, print_document
from distillery.printing.furniture import Furniture, Impression
from distillery.printing.house import impression, site
from distillery.printing.paper import BOLD
from distillery.printing.tabled.paged import figure_table
from distillery.printing.tabled.tables import FigureTable

PAPER: Final = "pdf"
FILES: Final = {"csv": "Save as CSV", "xlsx": "Save as XLSX", PAPER: "Save as PDF"}
MOST_ON_PAPER: Final = 2_000
LINES_A_PIECE: Final = 200
# Of the digest of its address, as the number of a list.
NUMBER_FIGURES: Final = 8
WORKBOOK: Final = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
# A name of a sheet in a workbook has at most 31 characters (ECMA-376, part 1, 18.2.19, from memory).
LONGEST_SHEET_NAME: Final = 31
# A cell holds at most 32,767 characters (from memory, as spreadsheets commonly have it).
LONGEST_TEXT: Final = 32_767


def file_of(table: HouseTable, kind: str, request: HttpRequest) -> HttpResponseBase:
    """The answer that carries the list as 'csv', 'xlsx' or 'pdf'."""
    name = f"{slugify(table.caption) or table.name}.{kind}"
    answer: HttpResponseBase
    if kind == "csv":
        answer = StreamingHttpResponse(csv_pieces(table), content_type="text/csv; charset=utf-8")
    elif kind == "xlsx":
        return FileResponse(workbook(table), as_attachment=True, filename=name, content_type=WORKBOOK)
    else:
        answer = HttpResponse(_paper_asked(table, request), content_type="application/pdf")
    answer["Content-Disposition"] = f'{"inline" if kind == "pdf" else "attachment"}; filename="{name}"'
    return answer


def heads(table: HouseTable) -> list[str]:
    """The heads of a file, each with its unit."""
    return [f"{column.label} {column.unit}".strip() for _, column in table.list_columns]


class _Echo:
    """What a csv writer writes to; the text goes straight back to it."""

    def write(self, text: str) -> str:
        return text


def csv_pieces(table: HouseTable) -> Iterator[str]:
    """The list as comma-separated text (RFC 4180), some lines at a time."""
    out = csv.writer(_Echo(), lineterminator="\r\n")
    lines = [out.writerow(tables_out.row(heads(table)))]
    for row in table.plain_rows():
        lines.append(out.writerow(tables_out.row([_as_text(value) for value in row])))
        if len(lines) >= LINES_A_PIECE:
            yield "".join(str(line) for line in lines)
            lines = []
    yield "".join(str(line) for line in lines)


def _as_text(value: Plain) -> str:
    if isinstance(value, datetime):
        return f"{value:%Y-%m-%d %H:%M}"
    if isinstance(value, date):
        return value.isoformat()
    return f"{value:f}" if isinstance(value, Decimal) else str(value)


def workbook(table: HouseTable) -> Any:
    """The list as a workbook in a file without a name, which the system removes when it is closed."""
    # Here and not above: the site starts sooner without the library of workbooks.
    from openpyxl import Workbook
    from openpyxl.cell import WriteOnlyCell
    from openpyxl.styles import Font

    book = Workbook(write_only=True)
    sheet = book.create_sheet(title=slugify(table.caption)[:LONGEST_SHEET_NAME] or "list")
    sheet.freeze_panes = "A2"
    columns = [column for _, column in table.list_columns]
    formats = [_format_of(column) for column in columns]
    top = [WriteOnlyCell(sheet, value=text) for text in tables_out.row(heads(table))]
    for cell in top:
        cell.font = Font(bold=True)
    sheet.append(top)
    for row in table.plain_rows():
        sheet.append([_workbook_cell(sheet, value, shape) for value, shape in zip(row, formats, strict=True)])
    # A temporary file: the system removes it with the answer, however that ends.
    target = TemporaryFile()  # noqa: SIM115 - the answer closes it when it is sent
    book.save(target)
    target.seek(0)
    return target


def _format_of(column: ListColumn) -> str:
    if not isinstance(column, FigureColumn):
        return "General"  # typed figures keep the decimals they have
    return f"#,##0.{'0' * column.places}" if column.places else "#,##0"


def _workbook_cell(sheet: Any, value: Plain, shape: str) -> Any:
    if isinstance(value, str):
        return tables_out.cell(_printable(value))
    if isinstance(value, Decimal):
        from openpyxl.cell import WriteOnlyCell

        cell = WriteOnlyCell(sheet, value=value)
        cell.number_format = shape
        return cell
    return value


def _printable(text: str) -> str:
    """Without the control characters that XML 1.0 (section 2.2) does not allow."""
    return "".join(one for one in text if one >= " " or one in "\t\n\r")[:LONGEST_TEXT]


def paper(table: HouseTable, *, printed_by: str, number: str = "") -> bytes:
    """The list on paper, landscape, up to MOST_ON_PAPER lines."""
    return print_document([list_part(table, impression(timezone.now(), printed_by), number=number)])


def _paper_asked(table: HouseTable, request: HttpRequest) -> bytes:
    """The same list asked for in the same way has the same number, so that its versions and copies are counted."""
    assert isinstance(request.user, Person)
    asked = hashlib.sha256(request.get_full_path().encode()).hexdigest()[:NUMBER_FIGURES]
    return paper(table, printed_by=request.user.shown_name, number=f"List {asked}")


def list_part(
    table: HouseTable, printing: Impression, *, number: str = "", most: int = MOST_ON_PAPER, summed: bool = False
) -> Part:
    """The list as a part of a document, landscape, up to `most` lines; with its sums where it was `summed`, or where
    whoever listed it has them already.
    """
    found, goes_on, shown = _shown(table, most, summed=summed)
    digest = digest_of(shown)
    blocks: list[Block] = [Paragraph(table.on_paper, BOLD)] if table.on_paper else []
    blocks.append(carried_forward(figure_table(shown), table, found))
    if goes_on:
        said = f"The list goes on: paper takes its first {most} lines. Print a shorter time, or save it."
        blocks.append(Paragraph(said, BOLD))
    blocks.append(digest_statement(digest))
    furniture = Furniture(site(), table.caption, number, 0, printing, digest)
    return Part(furniture, blocks, landscape=True, data=shown)


def digest_on_paper(table: HouseTable) -> str:
    """The digest that the list bears where it is printed by itself, for a page that shows it."""
    return digest_of(_shown(table, MOST_ON_PAPER, summed=False)[2])


def _shown(table: HouseTable, most: int, *, summed: bool) -> tuple[Sequence[Any], bool, pages.Table]:
    """The first rows, whether the list goes on, and what stands on paper, which the digest is taken over."""
    found, goes_on = table.first_of(most)
    total = table.total_row() if summed and found else table.total
    return found, goes_on, as_printed(table, found, None if goes_on else total)


def as_printed(table: HouseTable, rows: Sequence[Any], total: pages.Row | None) -> pages.Table:
    """Rows of a list in plain words: a state stands behind what it is of."""
    return pages.Table(
        table.caption,
        [column.head for _, column in table.list_columns],
        [pages.Row([pages.Cell(_on_paper(cell)) for cell in row.cells]) for row in table.rows_of(rows)],
        empty=table.empty,
        note=table.note,
        total=total,
    )


def _on_paper(cell: pages.Cell) -> str:
    return f"{cell.text} {cell.state.word}".strip() if cell.state is not None else cell.text


def carried_forward(printed: FigureTable, table: HouseTable, rows: Sequence[Any]) -> FigureTable:
    """A printed list with every column that has a sum below it carried forward at the foot of each page, in the whole
    numbers it is kept in. Columns that are no whole numbers, or bear a state, stay as they are."""
    if printed.total is None:
        return printed
    columns, cells = list(printed.columns), [list(row) for row in printed.rows]
    for place, ((_, column), sum_) in enumerate(zip(table.list_columns, printed.total, strict=True)):
        values = [column.value_of(row) for row in rows]
        whole = all(isinstance(one, int) or one is None or one == "" for one in values)
        if place == 0 or sum_ == "" or not isinstance(column, WholeColumn) or not whole:
            continue
        columns[place] = replace(columns[place], figure=column.written, carried=True, missing=column.none)
        for line, value in zip(cells, values, strict=True):
            line[place] = value if isinstance(value, int) else None
    return replace(printed, columns=tuple(columns), rows=[tuple(line) for line in cells])
