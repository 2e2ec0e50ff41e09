"""Tables on paper: no row lost, heads on every page, sums carried and brought forward. Sums are checked by Decimal."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from printed_samples import DIGEST, lines_of, pages_of, printed

from distillery import figures
from distillery.printing.digest import digest_statement
from distillery.printing.paper import BOLD, PORTRAIT, REGULAR, TEXT_SIZE, breadth
from distillery.printing.tabled.cells import Cell, Struck, draw_line
from distillery.printing.tabled.cells import lines_of as lines_of_cell
from distillery.printing.tabled.columns import Column, TableError, figure_column, measure
from distillery.printing.tabled.tables import FigureTable, summed

LPA = figure_column("Pure alcohol", figures.lpa, unit="LPA", carried=True)
COLUMNS = (Column("Entry"), Column("Vessel"), LPA)


def amounts(count: int) -> list[int]:
    return [((number * 7_919_000_003) % 2_000_000_000) - 400_000_000 for number in range(count)]


def rows(count: int) -> tuple[tuple[Cell, ...], ...]:
    return tuple((f"E{number:05d}", "Spirit vat", amount) for number, amount in enumerate(amounts(count)))


def read_figure(text: str) -> Decimal:
    return Decimal(text.replace(",", "").replace("−", "-"))


def test_a_thousand_rows_stand_once_each_in_order() -> None:
    table = FigureTable(COLUMNS, rows(1_000), total=summed("Total", COLUMNS, rows(1_000)))
    pages = pages_of(printed(table))
    assert re.findall(r"E\d{5}", "\n".join(pages)) == [f"E{number:05d}" for number in range(1_000)]
    assert len(pages) > 20
    assert all(page.count("Pure alcohol") == 1 for page in pages)
    assert all(f"Page {number} of {len(pages)}" in page for number, page in enumerate(pages, start=1))


def test_sums_are_carried_forward_and_brought_forward() -> None:
    pages = pages_of(printed(FigureTable(COLUMNS, rows(300), total=summed("Total", COLUMNS, rows(300)))))
    figure = r"\s*(−?[\d,]+\.\d\d)"
    running = Decimal(0)
    done = 0
    for number, page in enumerate(pages):
        brought = re.search("Brought forward" + figure, page)
        carried = re.search("Carried forward" + figure, page)
        on_page = len(re.findall(r"E\d{5}", page))
        if number:
            assert brought is not None
            assert read_figure(brought[1]) == running
        done += on_page
        running = (Decimal(sum(amounts(done))) / 1_000_000).quantize(Decimal("0.01"))
        if number < len(pages) - 1:
            assert carried is not None
            assert read_figure(carried[1]) == running
        else:
            assert carried is None
    total = re.search("Total" + figure, pages[-1])
    assert total is not None
    assert read_figure(total[1]) == running


@settings(max_examples=25, deadline=None)
@given(st.lists(st.integers(0, 400), min_size=1, max_size=120))
def test_rows_of_any_height_are_neither_lost_nor_parted(lengths: list[int]) -> None:
    columns = (Column("Entry"), Column("Remark", width_mm=70), LPA)
    table_rows = tuple(
        (f"E{number:05d}", " ".join(["word"] * length), 1_000_000) for number, length in enumerate(lengths)
    )
    pages = pages_of(printed(FigureTable(columns, table_rows)))
    text = "\n".join(pages)
    assert re.findall(r"E\d{5}", text) == [f"E{number:05d}" for number in range(len(lengths))]
    assert len(re.findall(r"\bword\b", text)) == sum(lengths)


def test_a_remark_longer_than_a_page_goes_on_over_the_page() -> None:
    long = " ".join(f"w{number:05d}" for number in range(4_000))
    pages = pages_of(printed(FigureTable((Column("Entry"), Column("Remark")), (("E1", long), ("E2", "short")))))
    assert re.findall(r"w\d{5}", "\n".join(pages)) == long.split()
    assert "E2" in pages[-1]


def test_a_short_table_is_not_parted() -> None:
    filler = FigureTable((Column("Line"),), tuple((f"L{number}",) for number in range(38)))
    short = FigureTable(COLUMNS, rows(8), caption="Differences")
    pages = pages_of(printed(filler, short))
    assert re.findall(r"E\d{5}", pages[0]) == []
    assert len(re.findall(r"E\d{5}", pages[1])) == 8
    assert "Carried forward" not in "".join(pages)


def test_the_total_never_stands_alone() -> None:
    for count in range(30, 60):
        pages = pages_of(printed(FigureTable(COLUMNS, rows(count), total=summed("Total", COLUMNS, rows(count)))))
        assert re.search(r"E\d{5}", pages[-1])
        assert "Total" in pages[-1]


def test_the_digest_never_stands_alone() -> None:
    for count in range(30, 60):
        pages = pages_of(printed(FigureTable(COLUMNS, rows(count)), digest_statement(DIGEST)))
        assert re.search(r"E\d{5}", pages[-1])
        assert "Digest of the data" in pages[-1]


def test_a_caption_says_that_it_goes_on() -> None:
    pages = pages_of(printed(FigureTable(COLUMNS, rows(60), caption="Entries")))
    assert "Entries\n" in pages[0]
    assert "Entries, continued" in pages[1]


def test_a_value_that_is_not_there_says_so() -> None:
    lines = lines_of(printed(FigureTable((Column("Entry"), Column("Liquid", "°C")), (("E1", None),))))
    assert "Not taken" in lines


def test_a_table_without_rows_says_so() -> None:
    assert "No gains." in lines_of(printed(FigureTable(COLUMNS, (), none="No gains.")))


def test_a_struck_value_is_carried_as_it_now_stands() -> None:
    struck = (*rows(60)[:-1], ("E99999", "Vat", Struck("9,999.99", 1_000_000, "a")))
    total = summed("Total", COLUMNS, struck)
    assert total[2] == sum(amounts(59)) + 1_000_000
    lines = lines_of(printed(FigureTable(COLUMNS, struck, total=total)))
    assert "9,999.99" in lines
    assert "1.00" in lines


class Pen:
    """Keeps what is drawn in place of a PDF canvas."""

    def __init__(self) -> None:
        self.texts: list[tuple[float, float, str]] = []
        self.lines: list[tuple[float, float, float, float]] = []

    def drawString(self, x: float, y: float, text: str) -> None:  # noqa: N802
        self.texts.append((x, y, text))

    def line(self, *ends: float) -> None:
        self.lines.append(ends)

    def setFont(self, name: str, size: float) -> None:  # noqa: N802
        pass

    def setLineWidth(self, width: float) -> None:  # noqa: N802
        pass


@pytest.mark.parametrize("width", [200.0, 40.0])
def test_the_line_goes_through_the_old_value_only(width: float) -> None:
    pen = Pen()
    for number, line in enumerate(lines_of_cell(Struck("71.9", "70.9", "a"), None, "", REGULAR, 10, width)):
        draw_line(pen, line, 0, width, 100 - 14 * number, align="right", size=10)
    where = {text: (x, y) for x, y, text in pen.texts}
    assert set(where) == {"71.9", "a", "70.9"}
    ((x1, y1, x2, y2),) = pen.lines
    old_x, old_y = where["71.9"]
    assert y1 == y2
    assert old_y < y1 < old_y + 7
    assert x1 <= old_x
    assert x2 >= old_x + 20
    new_x, new_y = where["70.9"]
    assert new_y < old_y or x2 < new_x
    assert where["a"][1] > old_y


def test_figures_stand_to_the_right_under_each_other() -> None:
    table_rows: tuple[tuple[Cell, ...], ...] = (("a", "b", 1_000_000), ("c", "d", 1_234_567_890_000))
    measured = measure(COLUMNS, table_rows, None, PORTRAIT.inner_width)
    rights = set()
    for row in table_rows:
        pen = Pen()
        (line,) = measured.lines(row, REGULAR)[2]
        draw_line(pen, line, measured.lefts[2], measured.widths[2], 0, align="right", size=measured.size)
        rights.add(round(pen.texts[0][0] + line[0].ems * measured.size, 6))
    assert len(rights) == 1


def test_a_record_number_is_not_cut_by_a_long_remark_beside_it() -> None:
    columns = (Column("Record"), Column("Remark"), figure_column("Pure alcohol", figures.lpa))
    lines = lines_of(printed(FigureTable(columns, (("SR-2026-0412", "seen at the still " * 30, 1_000_000),))))
    assert "SR-2026-0412" in lines


def test_figures_are_never_broken() -> None:
    columns = (Column("Stage"), *(figure_column(f"F{n}", figures.lpa) for n in range(7)))
    wide: tuple[Cell, ...] = ("Rectified and compounded spirit", *([9_876_543_210_000] * 7))
    lines = lines_of(printed(FigureTable(columns, (wide,), total=wide)))
    assert lines.count("9,876,543.21") == 14


def test_a_figure_among_words_is_not_broken_behind_a_column_of_figures() -> None:
    columns = (
        Column("Vessel"),
        Column("Stage"),
        figure_column("Book", figures.lpa, unit="LPA"),
        *(Column(head) for head in ("Bulk at 20 °C", "Strength", "State, or when gauged", "Cleaning")),
    )
    row: tuple[Cell, ...] = ("Neutral spirit tank", "Rectified and compounded", 2_019_360_000, "2,096.8", "96.3")
    row = (*row, "Not yet gauged since it was cleaned", "cleaned Sat 27 Mar 13:56, and again on the day after")
    assert "2,096.8" in lines_of(printed(FigureTable(columns, (row,))))


@pytest.mark.parametrize("rows", [(), (("E1", "Vat", 1),)])
def test_a_long_caption_is_broken_and_does_not_leave_the_page(rows: tuple[tuple[Cell, ...], ...]) -> None:
    caption = "How sure the tables are (none on record: " + ", ".join(f"WB{number}" for number in range(60)) + ")"
    lines = lines_of(printed(FigureTable(COLUMNS, rows, caption=caption)))
    beginning = next(number for number, line in enumerate(lines) if line.startswith("How sure"))
    said = lines[beginning : next(number for number, line in enumerate(lines) if line.endswith("WB59)")) + 1]
    assert " ".join(said) == caption
    assert all(breadth(line, BOLD) * TEXT_SIZE <= PORTRAIT.inner_width + 0.02 for line in said)


def test_columns_never_leave_the_page() -> None:
    wide = (Column("Entry"), *(figure_column(f"F{n}", figures.lpa) for n in range(9)))
    measured = measure(wide, (("An entry with a long name", *([1_234_567_890_123] * 9)),), None, PORTRAIT.inner_width)
    assert measured.size < 10
    assert measured.lefts[-1] + measured.widths[-1] <= PORTRAIT.inner_width + 0.02


def test_too_many_columns_are_refused_with_the_way_out() -> None:
    columns = tuple(figure_column(f"F{n}", figures.lpa) for n in range(40))
    with pytest.raises(TableError, match="landscape or with fewer columns"):
        printed(FigureTable(columns, (tuple([1_234_567_890] * 40),)))


@pytest.mark.parametrize(
    ("table", "says"),
    [
        (FigureTable(COLUMNS, (("only one",),)), "has 1 cells for 3 columns"),
        (FigureTable((LPA,), ((1,),)), "Carried forward"),
        (FigureTable((), ()), "at least one column"),
        (FigureTable(COLUMNS, (("E1", "Vat", "12.0"),)), "whole numbers"),
    ],
)
def test_a_table_that_cannot_be_is_refused(table: FigureTable, says: str) -> None:
    with pytest.raises(TableError, match=says):
        printed(table)
