"""Each line of a return: nil, suspension, spoilt and drawback, measured beside declared, what is missing."""

from __future__ import annotations

import io
import json
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from django.test import Client
from pypdf import PdfReader

from batches.models import Record
from batches.returns.as_data import as_data
from batches.returns.declared import declared
from batches.returns.duty_point import duty_point, rules_of_loss
from batches.returns.figures import MonthFigures, QuarterFigures, return_figures
from batches.returns.losses import may_become_due
from batches.returns.months import last_days, span_of
from distillery.people.models import Person
from distillery.process.product_names import Outcome
from distillery.rules.site_facts import Statement
from distillery.rules.stating import RECORDS, intervals
from ledger.statements.month import month_account
from tests.batches.tiny_plant import gauge
from tests.distillery.rules.invented_rate import enter_rate

Write = Callable[..., Record]
pytestmark = pytest.mark.django_db

MARCH = "2027-03"
GIN = {"product": "gin", "bottle_centilitres": "70", "label_percent": "40"}
BACK = {
    "at": "2027-03-20T09:00",
    "came_from": "Carrow Stores, Harrowmere",
    "document": "RN-7",
    "reason": "labels crooked",
    "condition": "mixed",
    "status": "duty paid, drawback claimed",
    "drawback_reference": "DB-3",
}


def of(period: str) -> MonthFigures:
    found = return_figures(period)
    assert isinstance(found, MonthFigures)
    return found


def in_stock(write: Write, bottles: str = "100") -> None:
    write("opening_bottled_stock", at="2027-03-01T06:00", bottles=bottles, **GIN)


class TestANilReturn:
    def test_of_a_month_without_movements(self, capsys: pytest.CaptureFixture[str]) -> None:
        call_command("return_figures", "2027-05", "--json")
        data = json.loads(capsys.readouterr().out)
        assert (data["nil"], data["duty"], data["under_declared"], data["drawback"]) == (True, [], [], [])
        call_command("return_figures", "2027-05")
        assert "a nil return" in capsys.readouterr().out

    def test_of_a_quarter_in_which_nothing_was_made(self, capsys: pytest.CaptureFixture[str]) -> None:
        call_command("return_figures", "2027-Q2", "--json")
        data = json.loads(capsys.readouterr().out)
        assert data["nil"]
        assert data["spirits_made"] == {"total_lpa": 0, "kinds": []}
        assert data["cereals_used"] == []

    def test_goods_in_suspension_are_something_to_declare(self, write: Write) -> None:
        in_stock(write)
        write("removal", at="2027-03-09T08:00", kind="export", bottles="10", **GIN)
        assert not of(MARCH).is_nil

    @pytest.mark.parametrize("period", ["2027-13", "2027-Q5", "March", "0001-01", "9999-12", "2027-3"])
    def test_what_is_no_month_is_refused_with_how_to_write_it(self, period: str) -> None:
        with pytest.raises(CommandError, match="write it like 2027-03 or 2027-Q1"):
            call_command("return_figures", period)

    @pytest.mark.parametrize("address", ["2027-13/", "x/figures.csv", "2027-Q9/figures.pdf", "2027-00/line/?line=a"])
    def test_its_page_is_not_there(self, address: str, client: Client, officer: Person) -> None:
        client.force_login(officer)
        assert client.get(f"/books/returns/{address}").status_code == 404

    def test_the_pages_of_a_site_with_nothing_written(self, client: Client, officer: Person) -> None:
        client.force_login(officer)
        assert "Nothing has been posted yet" in client.get("/books/returns/").content.decode()
        assert "Nothing has been posted yet" in client.get("/books/duty/").content.decode()


class TestDays:
    def test_a_return_is_due_on_the_15th_of_the_next_month_and_a_warehouse_s_after_14_days(self) -> None:
        """GOV.UK, technical guide, section 5.1; SI 1988/809, regulation 20(1) and (5)."""
        due = [(one.day, one.rule.until.split(" ")[0]) for one in span_of("2027-04").due()]
        assert due == [(date(2027, 5, 14), "14"), (date(2027, 5, 15), "the")]
        assert last_days([span_of("2027-12")]) == {"2027-12": date(2028, 1, 15)}

    def test_a_quarter_s_figures_are_due_with_its_last_month(self) -> None:
        """GOV.UK, Submit your Alcohol Duty return; the months of a quarter from memory."""
        assert [one.day for one in span_of("2027-Q2").due()] == [date(2027, 7, 15)]
        assert (span_of("2027-06").quarter, span_of("2027-05").quarter) == ("2027-Q2", "")

    def test_records_are_kept_for_six_years(self) -> None:
        """SI 1992/3150, regulation 8 (HMRC manual HCOTEG33600)."""
        assert intervals(date(2027, 3, 31))[RECORDS].months == 6 * 12

    def test_the_duty_point_of_a_loss_is_its_discovery_where_its_time_cannot_be_found(self) -> None:
        """SI 2010/593, regulation 8; HMRC manual HMAG150401."""
        lost, found = date(2027, 3, 3), date(2027, 3, 20)
        assert duty_point(went_missing=lost, discovered=found).day == lost
        unknown = duty_point(went_missing=None, discovered=found)
        assert (unknown.day, unknown.by_discovery) == (found, True)
        occasions = {one.occasion for one in rules_of_loss(found)}
        assert occasions == {"duty point", "set-off", "destroyed or irretrievably lost"}


class TestSuspension:
    def test_what_came_and_went_under_bond(self, write: Write) -> None:
        """Ten bottles of 70 cl at 40 % are 7.00 L and 2.80 LPA."""
        in_stock(write)
        write("removal", at="2027-03-09T08:00", kind="under bond", bottles="20", **GIN)
        write("removal", at="2027-03-10T08:00", kind="export", bottles="10", **GIN)
        write("return_inward", bottles="10", **GIN, **{**BACK, "status": "under bond", "drawback_reference": ""})
        lines = {one.line: (one.litres20_ul, one.pure_ul) for one in of(MARCH).suspended}
        assert lines == {
            "received": (7_000_000, 2_800_000),
            "dispatched inside the UK": (14_000_000, 5_600_000),
            "dispatched outside the UK": (7_000_000, 2_800_000),
        }


class TestWhatCameBack:
    def test_spoilt_and_sound_are_two_lines_at_the_rate_that_was_paid(self, write: Write) -> None:
        """12 bottles of 0.28 LPA, 5 of them spoilt: 1.40 at 35.01 are 49.014, 1.96 are 68.6196 pounds."""
        enter_rate()
        in_stock(write)
        write("removal", "RM0001", at="2027-03-09T08:00", kind="home use", bottles="20", **GIN)
        write("return_inward", "RI0001", bottles="12", spoilt_bottles="5", left_by="RM0001", **GIN, **BACK)
        march = of(MARCH)
        [spoilt], [drawback] = march.spoilt, march.drawback
        assert (spoilt.claim, spoilt.tax_type, spoilt.pure_ul, spoilt.pence) == ("DB-3", "345", 1_400_000, 49_01)
        assert (drawback.pure_ul, drawback.litres20_ul, drawback.pence) == (1_960_000, 4_900_000, 68_61)
        assert [(one.pure_ul, one.pence) for one in march.duty] == [(5_600_000, 196_05)]
        assert month_account(MARCH).foots

    def test_without_the_removal_the_rate_is_not_guessed(self, write: Write) -> None:
        enter_rate()
        in_stock(write)
        write("removal", at="2027-03-09T08:00", kind="home use", bottles="20", **GIN)
        write("return_inward", bottles="12", **GIN, **BACK)
        [line] = of(MARCH).drawback
        assert (line.rate, line.pence) == (None, None)
        assert "write on the record by which removal they had left" in line.why


class TestMeasuredBesideDeclared:
    def test_a_checked_strength_within_tolerance_stands_beside_and_duty_is_on_the_label(
        self, write: Write, opened: Callable[..., Record]
    ) -> None:
        """SI 2023/806, regulation 3(5): the label. 60 bottles at 41.4 % are 17.388 LPA, at 41.25 % 17.325."""
        enter_rate()
        opened("BV", "500", "41.4")
        label = {"product": "gin", "bottle_centilitres": "70", "label_percent": "41.4"}
        gauges = {**gauge("vat_before", "500", "41.4"), **gauge("vat_after", "78", "41.4")}
        checked = {"mean_fill_millilitres": "700.4", "mean_strength_percent": "41.25", "lot_code": "L27067"}
        write("bottling", "BO0001", at="2027-03-08T08:00", vat="BV", bottles="600", **label, **checked, **gauges)
        write("removal", at="2027-03-09T08:00", kind="home use", bottles="60", **label, lot_code="L27067")
        [line] = declared(of(MARCH).lines)
        assert (str(line.line.percent), str(line.measured), line.by_number) == ("41.4", "41.25", "BO0001")
        assert (line.line.pure_ul, line.measured_ul, line.book_ul) == (17_388_000, 17_325_000, 17_388_000)
        assert line.line.pence == 608_75


class TestWhatIsMissing:
    def test_each_amount_is_in_full_and_nothing_is_netted(self, loaded_month: Path) -> None:
        """The leaking cask: 10.896392 LPA at 35.01 are 381.4826 pounds, by the day of its regauge."""
        enter_rate()
        missing = may_become_due(span_of(MARCH))
        by_record = {one.record: one for one in missing.lines}
        cask = by_record["RG0007"]
        assert (cask.pure_ul, cask.pence, cask.point.by_discovery) == (10_896_392, 381_48, True)
        run = by_record["SR0007"]
        assert not run.point.by_discovery
        assert run.pence == int(run.pure_ul * 3501 / 1e6)
        assert all(one.pure_ul > 0 for one in missing.lines)
        assert missing.pence == sum(one.pence or 0 for one in missing.lines)
        assert missing.without_enquiry_over_ul > 0

    def test_it_is_no_part_of_the_duty_of_the_month(self, loaded_month: Path, client: Client, officer: Person) -> None:
        enter_rate()
        assert of(MARCH).duty_pence == 791_380
        client.force_login(officer)
        page = client.get(f"/books/duty/?month={MARCH}").content.decode()
        assert "7,913.80" in page
        assert "381.48" in page
        assert "not part of the duty above, and never netted" in page


def test_a_quarter_is_the_sum_of_its_months(loaded_month: Path) -> None:
    quarter, month = return_figures("2027-Q1"), of(MARCH)
    assert isinstance(quarter, QuarterFigures)
    assert quarter.made == month.quarter


class TestCereals:
    def test_each_malted_cereal_has_its_line_and_its_mashes(
        self, write: Write, client: Client, officer: Person
    ) -> None:
        """2 x 400 kg of barley (its receipt names no cereal) and 150 kg of rye."""
        write("intake", "M001", received_at="2027-03-02T06:00", kilograms="1000")
        write("intake", "M002", received_at="2027-03-02T07:00", kilograms="500", cereal="rye")
        for number, lot, grist in (("MA0001", "M001", "400"), ("MA0002", "M002", "150"), ("MA0003", "M001", "400")):
            write("mash", number, started_at=f"2027-03-1{number[-1]}T12:00", malt_lot=lot, grist_kg=grist)
        found = return_figures("2027-Q1")
        assert isinstance(found, QuarterFigures)
        assert [(one.name, one.amount) for one in found.made.cereals] == [
            ("malted barley", 800_000),
            ("malted rye", 150_000),
        ]
        client.force_login(officer)
        page = client.get("/books/returns/2027-Q1/line/", {"line": "cereals used: malted rye"}).content.decode()
        assert "MA0002" in page
        assert "MA0001" not in page


class TestStockPeriods:
    """The duty return goes by the calendar month, whatever periods the books have (technical guide, section 5.1)."""

    def test_months_that_stock_periods_cut_through_go_by_time(self, small_books: None) -> None:
        # The stock period 2027-07 begins on 28 June and ends on 1 August.
        assert span_of(MARCH).periods == (MARCH,)
        assert (span_of("2027-06").periods, span_of("2027-07").periods) == ((), ())
        june, march = of("2027-06"), of(MARCH)
        assert june.is_nil
        assert all(one.foots for one in (*june.classes, *march.classes))
        closing = {one.stage: one.closing_ul for one in march.classes}
        assert sum(closing.values()) > 0

    def test_the_closed_month_of_small_books_has_its_removal(self, small_books: None) -> None:
        """60 bottles of 70 cl at 41.4 % vol: 42.00 L, 17.388 LPA; its rate was not known."""
        [line] = of(MARCH).duty
        assert (line.tax_type, line.litres20_ul, line.pure_ul, line.pence) == ("345", 42_000_000, 17_388_000, None)
        assert span_of(MARCH).is_closed


class TestOfWhichScotch:
    """Scotch Whisky Regulations 2009 (SI 2009/2890), regulation 3(1)(a)-(b): made in Scotland, at one distillery, by
    enzymes of the grain and yeast alone, to less than 94.8 % vol."""

    def test_nothing_is_scotch_before_a_person_says_where_and_how_it_is_made(self, loaded_month: Path) -> None:
        quarter = return_figures("2027-Q1")
        assert isinstance(quarter, QuarterFigures)
        one, irish = quarter.made.of_which
        assert (one.name, one.outcome, one.amount) == ("Scotch whisky", Outcome.NOT_PROVEN, quarter.made.spirits_ul)
        assert any("at one distillery in Scotland: not known" in why for why in one.why)
        assert (irish.name, irish.outcome, irish.amount) == ("Irish whiskey", Outcome.NOT_PROVEN, one.amount)
        assert irish.why == ("distilled on the island of Ireland: not known",)

    def test_what_was_made_as_it_asks_is_all_malt_spirit_once_that_is_stated(
        self, loaded_month: Path, manager: Person, client: Client
    ) -> None:
        client.force_login(manager)
        assert client.post("/site/first-month/made as Scotch/").status_code == 302
        quarter = return_figures("2027-Q1")
        assert isinstance(quarter, QuarterFigures)
        one, irish = quarter.made.of_which
        assert (one.outcome, one.amount) == (Outcome.PASS, quarter.made.spirits_ul)
        [why] = one.why
        assert why.startswith(f"stated of the site by {manager.shown_name}, ")
        assert (irish.outcome, irish.amount) == (Outcome.FAIL, one.amount)
        assert irish.why[0] == "distilled on the island of Ireland: Scotland"
        said, of_irish = as_data(quarter)["spirits_made"]["of_which"]
        assert (of_irish["name"], of_irish["outcome"]) == ("Irish whiskey", "fail")
        assert (said["name"], said["lpa"]) == ("Scotch whisky", one.amount / 1e6)
        page = client.get("/books/returns/2027-Q1/").content.decode()
        assert "Made as it asks" in page
        assert "Irish whiskey" in page
        line = {"line": "spirits made: of which Scotch whisky, made as it asks"}
        assert "SR0001" in client.get("/books/returns/2027-Q1/line/", line).content.decode()

    def test_what_was_stated_is_taken_back_by_a_new_statement_with_who_when_and_why(
        self, loaded_month: Path, manager: Person, client: Client
    ) -> None:
        client.force_login(manager)
        page, made, back = (
            "/site/figures/names/",
            *(f"/site/first-month/{one} as Scotch/" for one in ("made", "not made")),
        )
        assert client.post(back, {"reason": "never so"}, follow=True).status_code == 200
        assert not Statement.objects.filter(what="not made as Scotch").exists(), "nothing stood"
        client.post(made)
        assert "Take it back" in client.get(page).content.decode()
        said = client.post(back, {"reason": " "}, follow=True).content.decode()
        assert "Say why it is taken back" in said
        client.post(back, {"reason": "enzymes were bought in"})
        said = client.get(page).content.decode()
        assert f"taken back by {manager.shown_name}" in said
        assert f"stated by {manager.shown_name}" in said
        assert "enzymes were bought in" in said
        quarter = return_figures("2027-Q1")
        assert isinstance(quarter, QuarterFigures)
        one, irish = quarter.made.of_which
        assert [one.outcome, irish.outcome] == [Outcome.NOT_PROVEN, Outcome.NOT_PROVEN]
        assert one.amount == quarter.made.spirits_ul
        assert any(
            why.startswith(f"what was stated of the site was taken back by {manager.shown_name}") for why in one.why
        )
        client.post(made)
        quarter = return_figures("2027-Q1")
        assert isinstance(quarter, QuarterFigures)
        assert [one.outcome for one in quarter.made.of_which] == [Outcome.PASS, Outcome.FAIL]


@pytest.mark.parametrize("prefix", ["duty", "removals", "may-be-due"])
def test_a_list_on_paper_by_itself_says_of_which_month_it_is(
    prefix: str, loaded_month: Path, client: Client, officer: Person
) -> None:
    client.force_login(officer)
    paper = client.get("/books/duty/", {"month": MARCH, f"{prefix}-as": "pdf"})
    assert "March 2027" in PdfReader(io.BytesIO(paper.getvalue())).pages[0].extract_text()
