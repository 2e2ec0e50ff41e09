"""A workbook that is in order: tried without a trace, brought in as the forms would, passed over the second time."""

from __future__ import annotations

import io
import json
import zipfile
from datetime import UTC, datetime

import pytest
from django.core.management import CommandError, call_command
from openpyxl import Workbook, load_workbook

from batches.loading.workbook import opening
from batches.loading.workbook.bringing import bring_in
from batches.loading.workbook.opening import NO_WORKBOOK
from batches.loading.workbook.report import Report
from batches.models import Record, Version
from batches.records import recording
from distillery.plant.models import CalibrationPoint, Cask, Vessel
from distillery.seals.models import BooksSeal
from ledger.models import Balance, Movement
from tests.batches.workbook.test_forty_mistakes import BOTTLED, CASKS, ROWS, filled, tried

pytestmark = pytest.mark.django_db
# 310 bottles of 0.7 L at 41.4 % vol: worked by hand.
BOTTLED_UL = 89_838_000


@pytest.fixture
def path(tmp_path):
    return tmp_path / "site.xlsx"


def said(report: Report) -> list[str]:
    return [str(one) for one in report.troubles]


class TestInOrder:
    def test_a_trial_says_every_row_and_leaves_no_trace(self, path):
        seals = BooksSeal.objects.count()
        report = tried(filled(path), path)
        assert said(report) == []
        assert {one.sheet: (one.new, one.there) for one in report.counts} == {
            title: (len(lines), 0) for title, lines in ROWS.items()
        }
        cask = next(row for row in report.rows if row.what == "2022/0001")
        assert (cask.sheet, cask.row, cask.is_there) == ("Casks", 3, False)
        assert "Gross 223.4 kg" in cask.says
        assert report.opening_ul > BOTTLED_UL
        assert not report.written
        assert not Vessel.objects.exists()
        assert not Movement.objects.exists()
        assert BooksSeal.objects.count() == seals

    def test_it_is_written_in_the_name_of_who_brings_it_in(self, path, manager):
        filled(path).save(path)
        report = bring_in(path, write=True, person=manager)
        assert report.written
        assert said(report) == []
        assert Vessel.objects.get(code="SR1").purpose == "spirit"
        assert CalibrationPoint.objects.filter(vessel__code="SR2").count() == 3
        assert {one.person for one in Version.objects.all()} == {manager}
        # A day with its time and a cell that a spreadsheet keeps as a day are read alike, on the site's clock.
        assert Cask.objects.get(vessel__code="2022/0002").filled_at == datetime(2022, 3, 15, 9, tzinfo=UTC)
        assert Cask.objects.get(vessel__code="E1").filled_at is None
        held = {one.account.code: one.balance_ul for one in Balance.objects.select_related("account")}
        assert BOTTLED_UL in held.values()
        assert sum(ul for code, ul in held.items() if not code.startswith("source")) == report.opening_ul

    def test_the_same_cask_by_the_form_holds_the_same(self, path, manager):
        tried(filled(path), path, write=True)
        brought = Movement.objects.get(record_number="OC0001").legs.filter(pure_ul__gt=0).get().pure_ul
        Vessel.objects.create(code="by hand", name="Cask", kind="cask", stage="maturing in cask")
        Cask.objects.create(vessel=Vessel.objects.get(code="by hand"), kind="barrel", nominal_ul=200_000_000)
        values = dict(zip(("filled_at", "tare_kg", "gross_kg", "percent"), map(str, CASKS[0][5:]), strict=True))
        record = recording.save("opening_cask", None, {"number": "by hand", **values}, person=manager, sure=True)
        typed = Movement.objects.get(record_number=record.number).legs.filter(pure_ul__gt=0).get().pure_ul
        assert typed == brought

    def test_the_second_time_everything_is_there(self, path):
        book = filled(path)
        tried(book, path, write=True)
        before = Movement.objects.count(), Record.objects.count(), Vessel.objects.count()
        again = tried(book, path, write=True)
        assert said(again) == []
        assert (again.new, again.there) == (0, sum(map(len, ROWS.values())))
        assert (Movement.objects.count(), Record.objects.count(), Vessel.objects.count()) == before

    def test_one_row_more_is_brought_in_alone_and_another_figure_is_a_problem(self, path):
        tried(filled(path), path, write=True)
        more = filled(path, {"Casks": [["2023/0001", *CASKS[0][1:]], ["2022/0001", *CASKS[0][1:6], 47, *CASKS[0][7:]]]})
        report = tried(more, path)
        assert said(report) == [
            "Casks, H4: OC0001 exists with other figures: 46.6 there, 47 here. Correct it on its page, with the reason."
        ]
        more["Casks"].delete_rows(4)
        assert tried(more, path, write=True).new == 1


class TestAsAPersonTypes:
    def test_percent_cells_days_alone_and_long_numbers(self, path):
        book = filled(path, {"Casks": [["17", "barrel", 1, 200, "1A", datetime(2022, 2, 15), "46,6 kg", 223.4, 0.635]]})
        book["Casks"]["B3"].value = 17.0
        book["Casks"]["J3"].number_format = "0.0%"
        book["Casks"]["I3"].value = 223.39999999999998
        report = tried(book, path, write=True)
        assert said(report) == []
        record = Version.objects.get().values
        assert json.loads(record)["percent"] == "63.5"
        assert json.loads(record)["gross_kg"] == "223.4"
        assert Cask.objects.get(vessel__code="17").filled_at == datetime(2022, 2, 15, tzinfo=UTC)

    def test_heads_that_are_not_those_of_the_sheet(self, path):
        book = filled(path, {"Opening bottled stock": BOTTLED})
        page = book["Opening bottled stock"]
        page["C1"], page["D1"] = "Produce", "BOTTLE  (cl)"
        report = tried(book, path)
        assert [(one.sheet, one.cell) for one in report.troubles] == [
            ("Opening bottled stock", "A1"),
            ("Opening bottled stock", "C1"),
        ]
        assert "'Product' is missing" in report.troubles[0].sentence
        assert "no column 'Produce'" in report.troubles[1].sentence

    def test_a_sheet_that_has_no_place(self, path):
        book = filled(path)
        book.create_sheet("Cask list")
        assert [(one.sheet, one.cell) for one in tried(book, path).troubles] == [("Cask list", "A1")]


class TestNotTrusted:
    def refused(self, path) -> str:
        report = bring_in(path, write=True)
        assert [(one.sheet, one.cell) for one in report.troubles] == [("", "")]
        return report.troubles[0].sentence

    def test_what_is_no_workbook(self, path):
        path.write_bytes(b"vessel,dip_mm\n")
        assert self.refused(path) == NO_WORKBOOK
        with zipfile.ZipFile(path, "w") as archive:
            archive.writestr("notes.txt", "nothing")
        assert self.refused(path) == NO_WORKBOOK

    def test_a_workbook_cut_short(self, path):
        filled(path).save(path)
        path.write_bytes(path.read_bytes()[:-400])
        assert self.refused(path) == NO_WORKBOOK

    def _with(self, path, name: str, text: str | bytes) -> None:
        filled(path).save(path)
        with zipfile.ZipFile(path, "a", zipfile.ZIP_DEFLATED) as archive:
            archive.writestr(name, text)

    def test_one_that_unpacks_to_a_thousand_times_its_size(self, path):
        self._with(path, "xl/worksheets/more.xml", b"\0" * 5_000_000)
        assert "200 times its size" in self.refused(path)

    @pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
    def test_one_that_defines_entities(self, path, encoding):
        self._with(path, "xl/more.xml", '<!DOCTYPE a [<!ENTITY b "c">]><a>&b;</a>'.encode(encoding))
        assert "defines entities" in self.refused(path)

    def test_one_that_is_too_large(self, path, monkeypatch):
        monkeypatch.setattr(opening, "MOST_BYTES", 1000)
        filled(path).save(path)
        assert "at most 0 MB" in self.refused(path)

    def test_more_rows_than_are_read(self, path, monkeypatch):
        monkeypatch.setattr("batches.loading.workbook.source.MOST_ROWS", 2)
        report = tried(filled(path, {"Casks": CASKS}), path)
        assert [(one.sheet, one.cell) for one in report.troubles] == [("Casks", "B4")]

    def test_a_row_far_below_and_none_between(self, path):
        book = filled(path, {"Opening bottled stock": BOTTLED})
        book["Opening bottled stock"].cell(200_000, 3, "gin")
        assert any(one.cell == "D200000" for one in tried(book, path).troubles)


class TestCommand:
    def test_it_says_what_it_would_do_then_does_it(self, path, capsys):
        filled(path).save(path)
        call_command("bring_in", str(path))
        told = capsys.readouterr().out
        assert told.startswith("Would be brought in:\n  Vessels: 3 new\n")
        assert "add --write" in told
        call_command("bring_in", str(path), "--write")
        assert capsys.readouterr().out.startswith("Brought in:\n")
        call_command("bring_in", str(path), "--json")
        assert json.loads(capsys.readouterr().out)["written"] is False

    def test_problems_end_it_with_status_one(self, path, capsys):
        Workbook().save(path)
        with pytest.raises(CommandError, match="1 problem; nothing was written"):
            call_command("bring_in", str(path))
        assert "no place for a sheet 'Sheet'" in capsys.readouterr().err

    def test_the_template_is_read_as_empty(self, path, capsys):
        call_command("bring_in", str(path), "--template")
        assert load_workbook(path).sheetnames[0] == "How"
        call_command("bring_in", str(path))
        assert "Nothing new." in capsys.readouterr().out
        with pytest.raises(CommandError, match="is there already"):
            call_command("bring_in", str(path), "--template")


def test_the_template_shows_units_and_marks_its_example():
    from batches.loading.workbook.template import write_template

    file = io.BytesIO()
    write_template(file)
    book = load_workbook(file)
    assert [cell.value for cell in book["Casks"][1]][:10] == [
        *("Mark", "Cask", "Kind of cask", "Fill", "Nominal size (L)", "Warehouse", "Filled at"),
        *("Tare (kg)", "Gross (kg)", "Strength at 20 °C (% vol)"),
    ]
    assert all(page["A2"].value == "example" for page in book.worksheets[1:])
