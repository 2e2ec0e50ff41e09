"""Pages of the stores: the list with its filters and files, one lot with its book, both ways of a record."""

from __future__ import annotations

import json
from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse

from batches.models import Record
from distillery.people.models import Person
from tests.batches.stores.test_stock_by_lot import pitch, received  # noqa: F401

Write = Callable[..., Record]


@pytest.fixture
def here(browser_of: Callable[[Person], Client], staff: Person) -> Client:
    return browser_of(staff)


def test_the_list_has_every_lot_and_its_filters(here: Client, received: Record, write: Write) -> None:  # noqa: F811
    pitch(write, "FE0001", 3, "12.5", lot="Y-9")
    page = here.get(reverse("stores")).content.decode()
    assert "30.0" in page
    assert "Not received here" in page
    only = here.get(reverse("stores"), {"state": "not received here"}).content.decode()
    assert "Y-9" in only
    assert "B-1" not in only
    rows = b"".join(here.get(reverse("stores"), {"material": "bottle", "as": "csv"})).decode()
    assert "B-1" in rows


def test_nothing_is_said_where_nothing_is(here: Client, db: None) -> None:
    assert "No materials yet." in here.get(reverse("stores")).content.decode()


def test_a_lot_has_its_certificate_book_and_uses(here: Client, received: Record, write: Write) -> None:  # noqa: F811
    pitch(write, "FE0001", 3, "12.5")
    page = here.get(reverse("lot", args=["yeast", "y-1"])).content.decode()
    for said in ("pressed", "Harrowmere", "FE0001", "17.5 kg", "Fermentation"):
        assert said in page
    told = json.loads(here.get(reverse("lot_json", args=["yeast", "Y-1"])).content)
    assert told["held"] == 17_500
    assert [one["held_after"] for one in told["entries"]] == [30_000, 17_500]
    assert here.get(reverse("lot", args=["yeast", "none"])).status_code == 404


def test_a_lot_never_received_says_so(here: Client, write: Write) -> None:
    write("intake", "M001", received_at="2027-03-02T06:00", kilograms="1000")
    pitch(write, "FE0001", 3, "12.5", lot="Y-9")
    page = here.get(reverse("lot", args=["yeast", "Y-9"])).content.decode()
    assert "never received here" in page
    assert "FE0001" in page


def test_a_record_leads_to_its_lots_and_find_to_the_lot(here: Client, received: Record, write: Write) -> None:  # noqa: F811
    record = pitch(write, "FE0001", 3, "12.5")
    lot = reverse("lot", args=["yeast", "Y-1"])
    assert lot in here.get(reverse("record", args=[record.kind, record.number])).content.decode()
    assert lot in here.get(reverse("record", args=[received.kind, received.number])).content.decode()
    found = here.get(reverse("find"), {"q": "y-1"}, follow=True).content.decode()
    assert lot in found or "Lot Y-1" in found


def test_blank_sheet_and_printed_record_follow(here: Client, received: Record) -> None:  # noqa: F811
    for kind in ("material_receipt", "material_count", "material_disposal"):
        assert here.get(reverse("record_new", args=[kind])).status_code == 200
        assert here.get(reverse("blank_sheet_pdf", args=[kind])).status_code == 200
    assert here.get(reverse("record_pdf", args=[received.kind, received.number])).status_code == 200


def test_a_silo_says_what_its_lots_are_together(here: Client, write: Write) -> None:
    # 20,000 kg at 408 and 12,000 kg at 412.8 LPA a tonne are 409.8: worked by hand, as in the checks of the process.
    for number, kilograms, given in (("M001", "20000", "408"), ("M002", "12000", "412.8")):
        more = {"kilograms": kilograms, "predicted_spirit_yield_lpa_per_tonne": given, "silo": "SI1"}
        write("intake", number, received_at=f"2027-03-02T0{number[-1]}:00", **more)
    page = here.get(reverse("silo", args=["si1"])).content.decode()
    assert "409.8" in page
    assert "32,000.0 kg" in page
    assert "M002" in page
    assert here.get(reverse("silo", args=["SI9"])).status_code == 404


def test_a_mash_leads_to_the_lots_its_silo_gave_and_the_silo_says_what_is_short(here: Client, write: Write) -> None:
    for number, day, kilograms in (("M001", "01", "3000"), ("M002", "02", "1000")):
        write("intake", number, received_at=f"2027-03-{day}T06:00", kilograms=kilograms, silo="S1")
    write("mash", "MA0001", started_at="2027-03-03T08:00", silo="S1", grist_kg="4100")
    page = here.get(reverse("record", args=["mash", "MA0001"])).content.decode()
    assert "3,000.0 kg, 73.2 %" in page
    assert "M001 3,000.0 kg, M002 1,100.0 kg" in page
    book = here.get(reverse("lot", args=["malt", "M002"])).content.decode()
    assert "MA0001" in book
    silo = here.get(reverse("silo", args=["S1"])).content.decode()
    assert "Below nothing" in silo
    assert here.get(reverse("record_pdf", args=["mash", "MA0001"])).status_code == 200
