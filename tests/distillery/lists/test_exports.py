"""A whole list as a file: texts are no formulas, figures are numbers, and it is written as it is read."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime
from types import SimpleNamespace
from typing import Any

from django.http import StreamingHttpResponse
from django.test import RequestFactory
from openpyxl import load_workbook

from distillery.lists.columns import DayColumn, DifferenceColumn, ListColumn, LpaColumn, MomentColumn
from distillery.lists.exports import LINES_A_PIECE, csv_pieces, workbook
from distillery.lists.showing import listed
from distillery.lists.tables import HouseTable


class Amounts(HouseTable):
    """Rows of every shape that a file has to carry."""

    name, caption = "amounts", "Amounts"
    text = ListColumn("Text", "text")
    at = MomentColumn("Happened", "at")
    day = DayColumn("Day", "day")
    alcohol = LpaColumn("Alcohol", "alcohol_ul")
    difference = DifferenceColumn("Difference", "difference_ul")


def amount(text: str, alcohol_ul: int | None = 1_234_567_890, difference_ul: int = -4_500_000) -> Any:
    # A quarter past two of British Summer Time is a quarter past one in UTC (Summer Time Act 1972).
    at = datetime(2027, 3, 29, 1, 15, 40, tzinfo=UTC)
    return SimpleNamespace(text=text, at=at, day=date(2027, 3, 29), alcohol_ul=alcohol_ul, difference_ul=difference_ul)


def csv_lines(*rows: Any) -> list[str]:
    return "".join(csv_pieces(Amounts(list(rows)))).split("\r\n")


def test_comma_separated_text_has_plain_figures_and_a_sign_for_over() -> None:
    head, line, end = csv_lines(amount("gin, first"))
    assert head == "Text,Happened,Day,Alcohol LPA,Difference LPA"
    assert line == '"gin, first",2027-03-29 02:15,2027-03-29,1234.57,-4.50'
    assert end == ""


def test_page_and_paper_say_missing_or_over() -> None:
    shown = [
        Amounts([]).rows_of([amount("x", difference_ul=ul)])[0].cells[4].text
        for ul in (4_500_000, -4_500_000, 0, 4_000)
    ]
    assert shown == ["4.50 missing", "4.50 over", "0.00", "0.00"]


def test_nothing_is_no_figure() -> None:
    assert csv_lines(amount("x", alcohol_ul=None))[1].split(",")[3] == ""


def test_a_text_that_begins_like_a_formula_is_a_text_in_every_file() -> None:
    assert csv_lines(amount("=1+1"))[1].startswith("'=1+1,")
    cell = load_workbook(workbook(Amounts([amount("=1+1")])))["amounts"]["A2"]
    assert (cell.value, cell.data_type) == ("'=1+1", "s")


def test_a_workbook_has_numbers_and_times_that_can_be_reckoned_with() -> None:
    sheet = load_workbook(workbook(Amounts([amount("a\x07b"), amount("y", alcohol_ul=None)])))["amounts"]
    first = [cell.value for cell in sheet[2]]
    assert first == ["ab", datetime(2027, 3, 29, 2, 15), datetime(2027, 3, 29), 1234.57, -4.5]
    assert sheet["D2"].data_type == sheet["E2"].data_type == "n"
    assert sheet["D2"].number_format == "#,##0.00"
    assert sheet["D3"].value is None
    assert sheet.freeze_panes == "A2"


def test_comma_separated_text_is_sent_while_it_is_read() -> None:
    prepared: list[int] = []

    class Counted(Amounts):
        def prepare(self, rows: Any) -> None:
            prepared.append(len(rows))

    many = [amount(f"line {number}") for number in range(1_700)]
    answer = listed(RequestFactory().get("/amounts/?as=csv"), Counted, many).file
    assert isinstance(answer, StreamingHttpResponse)
    pieces: Iterator[Any] = iter(answer)
    assert next(pieces).count(b"\r\n") == LINES_A_PIECE
    assert prepared == [500]
    assert sum(piece.count(b"\r\n") for piece in pieces) == 1_701 - LINES_A_PIECE
    assert prepared == [500, 500, 500, 200]
    assert answer["Content-Disposition"] == 'attachment; filename="amounts.csv"'
