"""The return figures of the sample month against sums made from its tables by plain arithmetic.

Nothing here is worked out by the program's returns: bottles times size times label, kilograms added up. The rate after
31 January 2027 is not known, so one is invented.
"""

from __future__ import annotations

import csv
import json
from collections.abc import Callable
from decimal import ROUND_DOWN, Decimal
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.test import Client

from distillery.people.models import Person
from ledger.models import Gauge
from ledger.statements.month import month_account
from tests.distillery.rules.invented_rate import enter_rate

PERIOD, QUARTER = "2027-03", "2027-Q1"
RATE = Decimal("35.01")


def rows(folder: Path, name: str) -> list[dict[str, str]]:
    with (folder / "log" / f"{name}.csv").open(encoding="utf-8", newline="") as table:
        return list(csv.DictReader(table))


def litres(row: dict[str, str]) -> Decimal:
    return Decimal(row["bottles"]) * Decimal(row["bottle_centilitres"]) / 100


def lpa(row: dict[str, str]) -> Decimal:
    return litres(row) * Decimal(row["label_percent"]) / 100


@pytest.fixture
def said(loaded_month: Path, capsys: pytest.CaptureFixture[str]) -> Callable[[str], Any]:
    def ask(period: str) -> Any:
        capsys.readouterr()
        call_command("return_figures", period, "--json")
        return json.loads(capsys.readouterr().out)

    return ask


def test_the_document_has_its_keys(said: Callable[[str], Any]) -> None:
    keys = {"period", "nil", "duty", "under_declared", "over_declared", "spoilt", "drawback", "suspension"}
    data = said(PERIOD)
    assert keys | {"warehouse", "movements"} <= data.keys()
    assert (data["period"], data["nil"], data["filed"]) == (PERIOD, False, False)
    assert {"tax_type", "lpa", "rate", "duty"} <= data["duty"][0].keys()
    assert {"received_lpa", "dispatched_lpa"} <= data["suspension"].keys()
    stock = {"category", "opening_lpa", "in_lpa", "out_lpa", "losses_lpa", "closing_lpa"}
    assert all(stock <= one.keys() for one in data["warehouse"])
    assert [one["day"] for one in data["due"]] == ["2027-04-14", "2027-04-15", "2027-04-15"]


def test_duty_is_that_of_the_bottles_that_left_for_home_use(said: Callable[[str], Any], loaded_month: Path) -> None:
    """226.044 LPA at 35.01 are 7,913.80044: 7,913.80. One by one they are 3,652.52 and 4,261.27, a penny less."""
    left = [row for row in rows(loaded_month, "removals") if row["kind"] == "home use"]
    whole = sum(map(lpa, left), Decimal(0))
    [line] = said(PERIOD)["duty"]
    assert (line["tax_type"], line["lpa"], line["rate"], line["duty"]) == ("345", float(whole), None, None)
    assert line["litres"] == float(sum(map(litres, left), Decimal(0)))
    enter_rate(str(RATE))
    [line] = said(PERIOD)["duty"]
    penny = Decimal("0.01")
    assert line["duty"] == float((whole * RATE).quantize(penny, ROUND_DOWN)) == 7913.80
    one_by_one = sum((lpa(row) * RATE).quantize(penny, ROUND_DOWN) for row in left)
    assert line["duty_of_removals"] == float(one_by_one) == 7913.79
    [account] = [one for one in month_account(PERIOD).removals if one.kind == "home use"]
    assert account.pence == round(one_by_one * 100)


def test_what_was_exported_moved_in_suspension(said: Callable[[str], Any], loaded_month: Path) -> None:
    left = [row for row in rows(loaded_month, "removals") if row["kind"] == "export"]
    moved = said(PERIOD)["suspension"]
    assert moved["dispatched_lpa"] == moved["dispatched_outside_uk_lpa"] == float(sum(map(lpa, left), Decimal(0)))
    assert moved["dispatched_outside_uk_litres"] == float(sum(map(litres, left), Decimal(0)))
    assert (moved["received_lpa"], moved["dispatched_inside_uk_lpa"]) == (0, 0)


def test_bottled_stock_is_what_was_there_and_bottled_less_what_left(
    said: Callable[[str], Any], loaded_month: Path
) -> None:
    opening = sum(map(lpa, rows(loaded_month, "opening_bottled_stock")), Decimal(0))
    bottled = sum(map(lpa, rows(loaded_month, "bottlings")), Decimal(0))
    left = sum(map(lpa, rows(loaded_month, "removals")), Decimal(0))
    stock = {one["category"]: one for one in said(PERIOD)["warehouse"]}["bottled under bond"]
    assert stock["opening_lpa"] == float(opening)
    assert (stock["in_lpa"], stock["out_lpa"]) == (float(bottled), float(left))
    assert (stock["losses_lpa"], stock["closing_lpa"]) == (0, float(opening + bottled - left))
    assert stock["lines"]["to home use"] + stock["lines"]["to export and stores"] == float(left)


def test_each_class_of_goods_foots_and_closes_as_the_month_does(said: Callable[[str], Any]) -> None:
    closing = {line.stage: line.closing_ul for line in month_account(PERIOD).stages}
    for one in said(PERIOD)["warehouse"]:
        made = one["opening_lpa"] + one["in_lpa"] - one["out_lpa"] - one["losses_lpa"]
        assert made == pytest.approx(one["closing_lpa"], abs=5e-7)
        assert round(one["closing_lpa"] * 1e6) == closing[one["category"]]
        assert all(amount > 0 for amount in one["lines"].values()), "gains and losses stand apart"


def test_cereals_are_the_grists_of_the_mashes(said: Callable[[str], Any], loaded_month: Path) -> None:
    grists = sum(Decimal(row["grist_kg"]) for row in rows(loaded_month, "mashes"))
    [cereal] = said(QUARTER)["cereals_used"]
    assert (cereal["cereal"], cereal["tonnes"]) == ("malted barley", float(grists / 1000))
    assert cereal["records"] == [row["mash"] for row in rows(loaded_month, "mashes")]


def test_spirits_made_are_the_receivers_after_less_their_remnants(
    said: Callable[[str], Any], loaded_month: Path
) -> None:
    """Spirits accounts, HMRC manual SPIR4130: each run's gauge after collection less the one before it."""
    runs = [row["run"] for row in rows(loaded_month, "spirit_runs")]
    gauges = Gauge.objects.standing().filter(movement__record_number__in=runs)
    after = sum(one.pure_ul for one in gauges if one.name == "spirit_after")
    before = sum(one.pure_ul for one in gauges if one.name == "spirit_before")
    data = said(QUARTER)
    assert (data["period"], data["nil"]) == (QUARTER, False)
    assert data["spirits_made"]["total_lpa"] == pytest.approx((after - before) / 1e6, abs=5e-7)
    assert [one["kind"] for one in data["spirits_made"]["kinds"]] == ["malt"]
    assert said(PERIOD)["quarter"]["spirits_made"] == data["spirits_made"]


def test_each_figure_opens_to_movements_that_add_up_to_it(
    said: Callable[[str], Any], officer: Person, browser_of: Callable[[Person], Client]
) -> None:
    data, here = said(PERIOD), browser_of(officer)
    figures = {"duty 345 at not-known": data["duty"][0]["lpa"]}
    figures["suspension dispatched outside the UK"] = data["suspension"]["dispatched_lpa"]
    for goods in data["warehouse"]:
        figures |= {f"warehouse {goods['category']}: {line}": lpa for line, lpa in goods["lines"].items()}
    assert figures.keys() == data["movements"].keys()
    for line, numbers in data["movements"].items():
        answer = here.get(f"/books/returns/{PERIOD}/line/", {"line": line, "as": "csv"})
        table = list(csv.DictReader(b"".join(answer.streaming_content).decode().splitlines()))
        assert sorted(int(row["Movement"]) for row in table) == sorted(numbers)
        amounts = sum(Decimal(row["Of this figure LPA"]) for row in table)
        # Each is written to four decimals.
        assert float(amounts) == pytest.approx(figures[line], abs=5e-5 * len(numbers) + 1e-9), line
        assert here.get(f"/books/returns/{PERIOD}/line/", {"line": line}).status_code == 200
    assert here.get(f"/books/returns/{PERIOD}/line/", {"line": "duty 999 at 1"}).status_code == 404


def test_the_page_the_csv_and_the_print_say_that_nothing_is_filed(
    said: Callable[[str], Any], officer: Person, browser_of: Callable[[Person], Client]
) -> None:
    here = browser_of(officer)
    page = here.get(f"/books/returns/{PERIOD}/").content.decode()
    assert "nothing is filed from here" in page
    assert "226.0440" in page
    table = here.get(f"/books/returns/{PERIOD}/figures.csv").content.decode()
    [duty] = [one for one in csv.DictReader(table.splitlines()) if one["part"] == "duty"]
    assert (duty["tax type"], duty["litres of pure alcohol"], duty["duty, pounds"]) == ("345", "226.0440", "")
    assert here.get(f"/books/returns/{PERIOD}/figures.pdf").content.startswith(b"%PDF")
    assert "44,000.0" in here.get(f"/books/returns/{QUARTER}/").content.decode()


def test_casks_and_bottles_are_counted_beside_the_alcohol_in_them(
    said: Callable[[str], Any], loaded_month: Path, officer: Person, browser_of: Callable[[Person], Client]
) -> None:
    """Case and cask counts of a stock return: Excise Warehouse Return W1, 08/2012."""
    stock = {one["category"]: one for one in said(PERIOD)["warehouse"]}
    filled = {row["cask"] for row in rows(loaded_month, "cask_fills")}
    casks = stock["maturing in cask"]["casks"]
    assert len(filled) == 74
    assert casks["closing"] == casks["opening"] + len(filled)
    there = sum(int(row["bottles"]) for row in rows(loaded_month, "opening_bottled_stock"))
    bottled = sum(int(row["bottles"]) for row in rows(loaded_month, "bottlings"))
    left = sum(int(row["bottles"]) for row in rows(loaded_month, "removals"))
    assert stock["bottled under bond"]["bottles"] == {"opening": there, "closing": there + bottled - left}
    assert "casks" not in stock["new spirit"]
    here = browser_of(officer)
    assert f"{casks['closing']} casks" in here.get(f"/books/returns/{PERIOD}/").content.decode()
    table = list(csv.DictReader(here.get(f"/books/returns/{PERIOD}/figures.csv").content.decode().splitlines()))
    counts = {one["line"]: one["casks or bottles"] for one in table if one["casks or bottles"]}
    assert counts["maturing in cask: opening"] == str(casks["opening"])
    assert counts["bottled under bond: closing"] == str(there + bottled - left)
