"""Lists of records: pages, filters, sums and files. What cannot be had is said in words, and is never an error."""

from __future__ import annotations

import re
from datetime import datetime
from html import unescape
from io import BytesIO

import pytest
from django.test import Client
from openpyxl import load_workbook
from pypdf import PdfReader

from batches.records import recording
from batches.steps import STEPS
from ledger.enquiries.following import deferred
from tests.batches.pages.small_site import FINISH, charged_run, fill, opening, small_site
from tests.people import somebody
from tests.ready_databases import standing_in

LIST = "/records/opening_stock/"


def _fill() -> None:
    small_site()
    opening(somebody("test-staff", "staff"))


@pytest.fixture(scope="module")
def _one_opening(filled_once):
    return filled_once("small_site_one_opening", _fill)


@pytest.fixture(scope="class")
def _one_opening_stands(_one_opening):
    with standing_in(_one_opening):
        yield


@pytest.fixture
def site(_one_opening_stands, staff):
    return staff


def read(here: Client, query: str = "", kind: str = "opening_stock") -> str:
    answer = here.get(f"/records/{kind}/?{query}")
    assert answer.status_code == 200
    return unescape(answer.content.decode())


def numbers_in(page: str) -> list[str]:
    return re.findall(r">(OV\d{4})</a>", page)


def way(page: str, text: str) -> str:
    found = re.search(rf'href="\?([^"]*)">{text}<', page)
    assert found, f"there is no way to '{text}'"
    return found[1]


@pytest.fixture
def five(site):
    """Five records of opening stock, at the same moment, so that their keys have to tell them apart."""
    with deferred():
        for code in ("V2", "SPR"):
            opening(site, code, dip="500")
        for code in ("LWR", "FR"):
            opening(site, code, dip="500", percent="24.8")
    return site


def test_pages_lead_on_and_back_and_to_the_last_lines(five, browser_of, monkeypatch):
    monkeypatch.setattr("distillery.lists.showing.LEAST_PER_PAGE", 2)
    here = browser_of(five)
    first = read(here, "per_page=2")
    assert numbers_in(first) == ["OV0005", "OV0004"]
    assert "The first 2 lines: the list goes on after them." in first
    second = read(here, way(first, "Lines after"))
    assert numbers_in(second) == ["OV0003", "OV0002"]
    last = read(here, way(second, "Lines after"))
    assert numbers_in(last) == ["OV0001"]
    assert "Lines after" not in last
    assert numbers_in(read(here, way(last, "Lines before"))) == ["OV0003", "OV0002"]
    assert numbers_in(read(here, way(first, "Last lines"))) == ["OV0002", "OV0001"]
    assert numbers_in(read(here, way(last, "First lines"))) == ["OV0005", "OV0004"]


def test_a_list_is_sorted_by_time_either_way(five, browser_of):
    here = browser_of(five)
    page = read(here)
    assert 'aria-sort="descending"' in page
    turned = read(here, way(page, "Happened"))
    assert numbers_in(turned) == numbers_in(page)[::-1]
    assert 'aria-sort="ascending"' in turned


@pytest.mark.parametrize(
    ("query", "found"),
    [
        ("month=2027-03", True),
        ("month=2027-02", False),
        ("since=2027-03-01&until=2027-03-01", True),
        ("since=2027-03-02", False),
        ("until=2027-02-28", False),
        ("vessel=v1", True),
        ("vessel=V2", False),
        ("person=test-staff", True),
        ("person=test-officer", False),
        ("state=complete", True),
        ("state=void", False),
    ],
)
def test_a_list_is_filtered_by_time_vessel_person_and_state(site, officer, browser_of, query: str, found: bool):
    page = read(browser_of(site), query)
    assert ("OV0001" in page) is found
    assert ("No opening stocks match" in page or "match. Clear the filter." in page) is not found
    assert "list-word" not in page


@pytest.mark.parametrize(
    ("query", "word"),
    [
        ("month=2027-33", "'2027-33' is not a month"),
        ("month=9999-12", "'9999-12' is not a month"),
        ("since=nonsense", "'nonsense' is not a day"),
        ("until=9999-12-31", "'9999-12-31' is not a day"),
        ("since=0001-01-01", "'0001-01-01' is not a day"),
        ("vessel=NOPE", "There is no vessel or cask 'NOPE'"),
        ("person=ghost", "There is no 'ghost' under Written by"),
        ("state=odd", "There is no 'odd' under State"),
        ("after=zz", "names no place in this list"),
        ("before=[]", "names no place in this list"),
        ("sort=colour", "cannot be sorted by 'colour'"),
        ("sort=-number__opened_by__password", "cannot be sorted by"),
        ("per_page=9999999999", "no number of lines"),
        ("as=doc", "not made as 'doc'"),
    ],
)
def test_what_cannot_be_is_left_out_with_a_word(site, browser_of, query: str, word: str):
    page = read(browser_of(site), query)
    assert word in page
    assert "OV0001" in page


def test_a_vat_of_4000_litres_at_63_5_percent_stands_with_its_alcohol(site, browser_of):
    # 1,000 mm of a vat of 4 L a millimetre at 20 °C: 4,000 L times 63.5 % is 2,540 LPA by the meaning of strength.
    page = read(browser_of(site))
    assert "2,540.00" in page
    assert "Dip" not in page


def test_a_difference_says_over_where_casks_hold_more_than_left_the_vat(site, browser_of):
    fill(site)
    page = read(browser_of(site), "month=2027-03", kind="cask_fill")
    assert re.search(r"\d\.\d\d (over|missing)<", page)
    assert ">Total<" in page
    assert ">Total<" not in read(browser_of(site), kind="cask_fill")


def test_sums_of_a_month_are_those_of_its_lines(five, browser_of):
    csv = browser_of(five).get(f"{LIST}?as=csv&month=2027-03")
    lines = b"".join(csv.streaming_content).decode().split("\r\n")
    place = lines[0].split(",").index("Alcohol LPA")
    added = sum(round(float(line.split(",")[place]) * 100) for line in lines[1:-1])
    page = read(browser_of(five), "month=2027-03&per_page=5")
    foot = page[page.index("<tfoot>") : page.index("</tfoot>")].replace(",", "")
    assert f"{added / 100:.2f}" in foot


def test_a_list_is_saved_whole_as_csv_and_xlsx_and_printed(five, browser_of):
    here = browser_of(five)
    csv = here.get(f"{LIST}?as=csv&per_page=5")
    assert csv.streaming
    assert b"".join(csv.streaming_content).count(b"OV000") == 5
    xlsx = here.get(f"{LIST}?as=xlsx")
    sheet = load_workbook(BytesIO(b"".join(xlsx.streaming_content))).worksheets[0]
    heads = [cell.value for cell in sheet[1]]
    place = heads.index("Alcohol LPA")
    assert {type(row[place].value) for row in sheet.iter_rows(min_row=2)} <= {int, float}
    assert sheet.max_row == 6
    printed = here.get(f"{LIST}?as=pdf")
    assert printed["Content-Type"] == "application/pdf"
    text = "".join(page.extract_text() for page in PdfReader(BytesIO(printed.content)).pages)
    assert "OV0005" in text
    assert "2,540.00" in text


def test_a_filter_narrows_the_files_too(five, browser_of):
    csv = browser_of(five).get(f"{LIST}?as=csv&vessel=V2")
    assert b"".join(csv.streaming_content).count(b"OV000") == 1


def test_files_are_for_those_who_signed_on(site, stranger):
    assert stranger.get(f"{LIST}?as=csv").status_code == 302


@pytest.mark.parametrize("kind", [sheet.kind for sheet in STEPS])
def test_every_kind_has_its_list_and_files(site, browser_of, kind: str):
    fill(site)
    here = browser_of(site)
    page = read(here, kind=kind)
    assert " style=" not in page
    assert not re.search(r"<script(?![^>]*src=)", page)
    for name in ("csv", "xlsx", "pdf"):
        answer = here.get(f"/records/{kind}/?as={name}")
        assert answer.status_code == 200
        assert b"".join(answer.streaming_content) if answer.streaming else answer.content


def test_what_was_typed_is_a_figure_or_a_time_in_a_workbook(site, browser_of):
    low_wines_and_feints = (("LWR", "900", "24.8"), ("FR", "500", "36.0"))
    for code, dip, percent in low_wines_and_feints:
        opening(site, code, dip=dip, percent=percent)
    run = charged_run(site)
    recording.save("spirit_run", run.number, FINISH, person=site)
    answer = browser_of(site).get("/records/spirit_run/?as=xlsx")
    heads, line = load_workbook(BytesIO(b"".join(answer.streaming_content))).worksheets[0].iter_rows(values_only=True)
    found = dict(zip(heads, line, strict=True))
    assert found["Strength at spirit on % vol"] == 73.0
    assert found["Strength at spirit off % vol"] == 62.1
    assert found["Ended at"] == datetime(2027, 3, 3, 13, 20)
