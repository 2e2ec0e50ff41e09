"""The list of all removals: what left, by what for, to whom, on what document; its files; and what is awaited.

Figures by hand: 12 bottles of 70 cl at 40.0 % are 3.36 LPA; at 33.99 pounds a litre (GOV.UK, Alcohol Duty rates, from
1 February 2026) that is 114.2064, part-pence dropped. Consignees are invented.
"""

from __future__ import annotations

import csv
import io

import pytest

from batches.records import recording
from distillery.clock.reading import books_now

GIN = {"product": "gin", "bottle_centilitres": "70", "label_percent": "40.0", "bottles": "12"}
BOND = {
    "kind": "under bond",
    "consignee": "Carrow Bonded Stores, Quai d'Élan 3, Harrowmere",
    "consignee_approval": "GBWK000000417",
    "movement_reference": "27GB0000000000000HM17",
    "guarantee": "HM-G-3",
    "product_code": "S200",
}


@pytest.fixture
def left(site):
    """Two removals: for home use, and under bond."""

    def write(step, number, /, **values):
        return recording.save(step, number, values, person=site, sure=True)

    write("opening_bottled_stock", None, at="2026-01-01T06:00", **{**GIN, "bottles": "100"})
    write("removal", "RM0001", at="2026-11-02T09:00", kind="home use", document="HU-7", **GIN)
    write("removal", "RM0002", at="2026-11-03T09:00", **GIN, **BOND)
    return site


def rows(browser, address):
    table = csv.reader(io.StringIO(b"".join(browser.get(address)).decode("utf-8-sig")))
    return [row for row in table if row]


def test_all_of_them_with_alcohol_and_duty(left, browser_of):
    page = browser_of(left).get("/removals/").content.decode()
    for said in ("12 gin", "Carrow Bonded Stores", "27GB0000000000000HM17", "114.20", "3.36"):
        assert said in page, said
    assert "Awaited from the other end" in page


@pytest.mark.parametrize(
    ("asked", "numbers"),
    [
        ("kind=home+use", ["RM0001"]),
        ("kind=under+bond", ["RM0002"]),
        ("kind=export", []),
        ("consignee=bonded", ["RM0002"]),
        ("consignee=d%27%C3%89lan", ["RM0002"]),
        ("consignee=gin", []),
        ("document=hu-7", ["RM0001"]),
        ("document=HM17", ["RM0002"]),
        ("since=2026-11-03", ["RM0002"]),
        ("until=2026-11-02", ["RM0001"]),
        ("kind=home+use&consignee=%5B%22", []),
    ],
)
def test_it_is_narrowed(left, browser_of, asked, numbers):
    found = rows(browser_of(left), f"/removals/?{asked}&as=csv")
    assert [row[0] for row in found[1:] if row[0].startswith("RM")] == numbers


@pytest.mark.parametrize(("way", "begins"), [("xlsx", b"PK"), ("pdf", b"%PDF")])
def test_it_is_saved_and_printed(left, browser_of, way, begins):
    answer = browser_of(left).get(f"/removals/?as={way}")
    assert b"".join(answer).startswith(begins)


def test_its_sums_by_kind_follow_what_is_chosen(left, browser_of):
    browser = browser_of(left)
    both = rows(browser, "/removals/?kinds-as=csv")
    assert [row[:2] for row in both[1:3]] == [["home use", "1"], ["under bond", "1"]]
    only = rows(browser, "/removals/?kind=under+bond&kinds-as=csv")
    assert [row[0] for row in only[1:] if row[0] in ("home use", "under bond")] == ["under bond"]


def test_an_overdue_report_stands_on_the_page_and_on_this_shift(left, browser_of):
    assert books_now().year == 2027
    browser = browser_of(left)
    assert "Overdue" in browser.get("/removals/").content.decode()
    shift = browser.get("/").content.decode()
    assert "Reports overdue" in shift
    assert "report from the other end, overdue since Tue 10 Nov" in shift
    books = browser.get("/books/").content.decode()
    assert "1 report from the other end" in books
    assert "overdue since Tue 10 Nov" in books


def test_an_officer_reads_it_and_writes_nothing(left, browser_of, officer):
    page = browser_of(officer).get("/removals/").content.decode()
    assert "RM0002" in page
    assert "New removal" not in page
    assert "Write it" not in page


@pytest.mark.parametrize("kind", ["removal", "cask_removal", "bulk_removal", "return_inward", "reprocessing"])
def test_a_new_sheet_of_each_opens_blank(site, browser_of, kind):
    page = browser_of(site).get(f"/records/{kind}/new/")
    assert page.status_code == 200
    assert 'id="id_at"' in page.content.decode()
