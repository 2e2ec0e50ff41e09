"""An empty workbook to fill in: a sheet that says how, then one for each kind of thing, with an example row marked."""

from __future__ import annotations

from typing import IO, TYPE_CHECKING, Any, Final

from batches.loading.workbook.sheets import EXAMPLE, HOW, MARK, SHEETS, Column, WorkbookSheet
from batches.sheets.sheet import Kind

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet

FILE_NAME: Final = "site to bring in.xlsx"
_HOW: Final = (
    "Fill in the sheets that follow and choose this workbook on the page Bring in a workbook.",
    "Nothing is written before you have seen every row and every problem, by its sheet and cell.",
    f"Row 2 of each sheet is an example. A row with '{EXAMPLE}' in the column {MARK} is not read.",
    "Sheets and columns that are not needed may stay empty. Heads and titles of sheets stay as they are.",
    "Write figures in the unit of the head. Put values, not formulas: a formula is refused.",
    "A day is written 2027-03-04, a time 2027-03-04 06:00. A day without a time counts from midnight.",
    "What is on the site already with the same figures is passed over, so a workbook may be brought in again.",
    "Figures of readings and weights are worked out by the program as on every sheet: write what was read.",
)
_WIDEST: Final = 34
_LINES_WITH_LISTS: Final = 5000


def write_template(target: IO[bytes]) -> None:
    """Writes the empty workbook to a file open for bytes."""
    from openpyxl import Workbook
    from openpyxl.styles import Alignment, Font

    book = Workbook()
    how = book.active
    assert how is not None
    how.title = HOW
    how.column_dimensions["A"].width, how.column_dimensions["B"].width = 26, 34
    how.column_dimensions["C"].width = 70
    how.append(["How to bring a site in"])
    for line in _HOW:
        how.append([line])
    for sheet in SHEETS:
        how.append([])
        how.append([sheet.title, sheet.says])
        how.cell(how.max_row, 1).font = Font(bold=True)
        for column in sheet.columns:
            how.append(["", column.head, _said(column)])
            how.cell(how.max_row, 3).alignment = Alignment(wrap_text=True, vertical="top")
    how["A1"].font = Font(bold=True, size=14)
    for sheet in SHEETS:
        _sheet(book.create_sheet(sheet.title), sheet)
    book.save(target)


def _sheet(page: Worksheet, sheet: WorkbookSheet) -> None:
    from openpyxl.styles import Font
    from openpyxl.utils import get_column_letter
    from openpyxl.worksheet.datavalidation import DataValidation

    page.append([MARK, *(column.head for column in sheet.columns)])
    page.append([EXAMPLE, *(_example(column) for column in sheet.columns)])
    page.freeze_panes = "A2"
    for cell in page[1]:
        cell.font = Font(bold=True)
    for cell in page[2]:
        cell.font = Font(italic=True, color="00666666")
    for place, column in enumerate(sheet.columns, start=2):
        letter = get_column_letter(place)
        page.column_dimensions[letter].width = min(_WIDEST, max(12, len(column.head) + 2))
        if not column.is_figure:
            # As text, so that 2022/01 stays the number of a cask and does not become a month.
            page.column_dimensions[letter].number_format = "@"
        if column.field.kind == Kind.CHOICE:
            choices = DataValidation(type="list", formula1=f'"{",".join(column.field.choices)}"', allow_blank=True)
            choices.add(f"{letter}2:{letter}{_LINES_WITH_LISTS}")
            page.add_data_validation(choices)


def _example(column: Column) -> Any:
    if column.is_figure and column.example:
        return float(column.example) if "." in column.example else int(column.example)
    return column.example or None


def _said(column: Column) -> str:
    """What stands in a column, in a sentence or two."""
    said = []
    if column.field.kind == Kind.CHOICE:
        said.append(f"One of: {', '.join(column.field.choices)}.")
    if column.is_moment:
        said.append("A time.")
    elif column.is_day:
        said.append("A day.")
    elif column.is_figure and column.field.unit:
        said.append(f"A figure in {column.field.unit}.")
    said.append("May be blank." if column.may_be_blank else "Needed.")
    if column.example:
        said.append(f"Such as {column.example}.")
    return " ".join(said)
