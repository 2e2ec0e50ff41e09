"""The find box, the warehouse and bottling: what leads where, what is filtered, and how many questions a page asks."""

from __future__ import annotations

import re
from datetime import date
from html import unescape

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from small_site import cask, charged_run, fill, opening, small_site

from batches.records import recording
from batches.visits.noting import write_visit_note
from distillery.plant.models import Vessel

pytestmark = pytest.mark.django_db


@pytest.fixture
def site(staff):
    small_site()
    opening(staff)
    return staff


@pytest.mark.parametrize(
    ("asked", "leads_to"),
    [
        ("CF0001", "/records/cask_fill/CF0001/"),
        ("cf0001", "/records/cask_fill/CF0001/"),
        ("V1", "/books/accounts/V1/"),
        ("C002", "/casks/C002/"),
        (" CF00 ", "/records/cask_fill/CF0001/"),
    ],
)
def test_a_number_leads_to_its_page(site, browser_of, asked, leads_to):
    fill(site)
    answer = browser_of(site).get("/find/", {"q": asked})
    assert answer.status_code == 302
    assert answer["Location"] == leads_to


def test_a_lot_leads_to_the_records_that_name_it(site, browser_of):
    given = {"kind": "malt", "kilograms": "5000", "received_at": "2027-03-01 08:00"}
    lot = recording.save("intake", "ML-27/014", given, person=site)
    answer = browser_of(site).get("/find/", {"q": lot.number})
    assert answer["Location"] == "/records/intake/ML-27/014/"
    assert browser_of(site).get(answer["Location"]).status_code == 200
    assert browser_of(site).get(answer["Location"] + "correct/").status_code == 200


def test_several_make_a_list_and_none_a_sentence(site, browser_of):
    several = browser_of(site).get("/find/", {"q": "C00"}).content.decode()
    assert "3 fit" in several
    assert "/casks/C003/" in several
    assert "is or begins with NOTHING" in browser_of(site).get("/find/", {"q": "NOTHING"}).content.decode()
    assert "scan its code" in browser_of(site).get("/find/").content.decode()
    assert "&lt;b&gt;" in browser_of(site).get("/find/", {"q": "<b>"}).content.decode()


def _way(page: str, text: str) -> str:
    """Where the link with this text leads."""
    found = re.search(rf'href="([^"]*)">{text}<', page)
    assert found, f"there is no way to '{text}'"
    return unescape(found[1])


def test_the_warehouse_filters_and_pages_by_number(site, browser_of):
    fill(site)
    for number in range(60):
        cask(f"D{number:03}", "W2")
    here = browser_of(site)
    first = here.get("/warehouse/").content.decode()
    assert "126.35" in first
    assert "/casks/D046/" in first
    assert "/casks/D047/" not in first
    second = here.get(f"/warehouse/{_way(first, 'Lines after')}").content.decode()
    assert "/casks/D047/" in second
    assert "/casks/D046/" not in second
    back = here.get(f"/warehouse/{_way(second, 'Lines before')}").content.decode()
    assert "/casks/C001/" in back
    only = here.get("/warehouse/?warehouse=W1").content.decode()
    assert "C003" in only
    assert "D001" not in only
    assert "No casks match" in here.get("/warehouse/?q=zzz").content.decode()
    assert "/casks/D001/" not in here.get("/warehouse/?state=full").content.decode()
    assert "/casks/C001/" not in here.get("/warehouse/?state=empty").content.decode()
    assert ">Total<" in here.get("/warehouse/?state=full").content.decode()


def test_the_warehouse_asks_no_more_for_more_casks(site, browser_of):
    fill(site)
    here = browser_of(site)
    here.get("/warehouse/")
    with CaptureQueriesContext(
        connection,
    ) as few:
        here.get("/warehouse/")
    for number in range(40):
        cask(f"E{number:03}")
    with CaptureQueriesContext(connection) as many:
        here.get("/warehouse/")
    assert len(many) == len(few)


def test_a_list_asks_no_more_for_more_records(site, browser_of):
    here = browser_of(site)
    here.get("/records/opening_stock/")
    with CaptureQueriesContext(connection) as few:
        here.get("/records/opening_stock/")
    opening(site, "V2", dip="500")
    opening(site, "SPR", dip="500")
    with CaptureQueriesContext(connection) as many:
        here.get("/records/opening_stock/")
    assert len(many) == len(few)


def test_bottled_stock_and_removals_are_shown_with_duty(site, browser_of, officer):
    stock = {"product": "first release", "bottle_centilitres": "70", "label_percent": "46", "bottles": "120"}
    recording.save("opening_bottled_stock", None, stock | {"at": "2027-03-01 06:00"}, person=site)
    left = stock | {"at": "2027-03-05 09:00", "bottles": "20", "kind": "home use"}
    recording.save("removal", None, left, person=site)
    page = browser_of(site).get("/bottling/").content.decode()
    assert "100" in page
    assert "RM0001" in page
    assert "New removal" in page
    assert "New removal" not in browser_of(officer).get("/bottling/").content.decode()


def test_an_open_record_is_listed_by_its_state(site, browser_of):
    opening(site, "LWR", dip="900", percent="24.8")
    opening(site, "FR", dip="500", percent="36.0")
    run = charged_run(site)
    here = browser_of(site)
    assert run.number in here.get("/records/spirit_run/?state=open").content.decode()
    assert "No spirit runs match" in here.get("/records/spirit_run/?state=complete").content.decode()
    assert "/records/spirit_run/?state=open" in here.get("/records/").content.decode()


@pytest.mark.parametrize("asked", ["cf1", "CF1", "cf 1", "CF-001", "cf00001"])
def test_a_number_is_known_without_its_noughts(site, browser_of, asked):
    fill(site)
    assert browser_of(site).get("/find/", {"q": asked})["Location"] == "/records/cask_fill/CF0001/"


@pytest.mark.parametrize("asked", ["VN0002", "vn2", "VN-02", "vn 2"])
def test_a_visit_note_is_known_by_its_number(site, officer, browser_of, asked):
    for text in ("Row 1 was counted.", "Row 2 was counted."):
        write_visit_note(text, visited_on=date(2027, 3, 4), person=officer)
    for person in (site, officer):
        assert browser_of(person).get("/find/", {"q": asked})["Location"] == "/visit-notes/2/"
    assert "is or begins with VN0003" in browser_of(site).get("/find/", {"q": "VN0003"}).content.decode()


def test_a_cask_is_known_by_its_year_and_number(site, browser_of):
    cask("2022/0007", "W1")
    assert browser_of(site).get("/find/", {"q": "2022/7"})["Location"] == "/casks/2022/0007/"


def test_lots_documents_products_vessels_and_people_are_found_by_name(site, browser_of):
    stock = {"product": "first release", "bottle_centilitres": "70", "label_percent": "46", "bottles": "120"}
    recording.save("opening_bottled_stock", None, stock | {"at": "2027-03-01 06:00"}, person=site)
    left = stock | {"at": "2027-03-05 09:00", "bottles": "20", "kind": "home use", "document": "W5-0031"}
    recording.save("removal", None, left, person=site)
    here = browser_of(site)
    for asked in ("W5-0031", "w5-31"):
        assert here.get("/find/", {"q": asked})["Location"] == "/records/removal/RM0001/"
    product = here.get("/find/", {"q": "First Release"}).content.decode()
    assert "names product" in product
    assert "Bottled stock" in product
    assert "/records/removal/RM0001/" in product
    person = here.get("/find/", {"q": site.username})
    assert person["Location"] == f"/books/movements/?person={site.username}"
    vessel = Vessel.objects.exclude(kind="cask").first()
    assert vessel is not None
    Vessel.objects.filter(pk=vessel.pk).update(name="Long receiver by the door")
    assert here.get("/find/", {"q": "by the DOOR"})["Location"] == f"/books/accounts/{vessel.code}/"


def test_what_is_not_found_says_what_can_be_looked_for(site, browser_of):
    page = browser_of(site).get("/find/", {"q": "nothing of the kind"}).content.decode()
    for words in ("nothing of the kind", "without their noughts", "documents", "products", "/records/"):
        assert words in page
    for odd in ("\x00", "0", "000000000000000000000", "'", "%", "²"):
        assert browser_of(site).get("/find/", {"q": odd}).status_code in (200, 302, 400)
