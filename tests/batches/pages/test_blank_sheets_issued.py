"""Blank sheets have serials from a register; what was written on one is keyed in with its serial, and keeps it."""

from __future__ import annotations

import io
import json
from collections.abc import Callable

import pytest
from django.db import DatabaseError
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from batches.hands import Hands
from batches.models import Record, Version
from batches.records import recording
from batches.records.versions import digest_of, line_of_version
from distillery.people.models import Person
from distillery.prints.issuing import NoSuchSheet, issue, sheet_called
from distillery.prints.models import IssuedSheet
from ledger.proof.proving import prove

ISSUE, RETURNED, ISSUED = "/records/blank-sheets/", "/records/blank-sheets/returned/", "/records/blank-sheets/issued/"


def pages_of(pdf: bytes) -> list[str]:
    return [" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(pdf)).pages]


@pytest.fixture
def here(staff: Person, browser_of: Callable[[Person], Client]) -> Client:
    return browser_of(staff)


def test_sheets_are_issued_in_order_with_their_place_and_to_whom(site, here: Client, officer, browser_of) -> None:
    for copies in ("2", "1"):
        sent = {"kind": "transfer", "copies": copies, "issued_to": "the night shift"}
        answered = here.post(ISSUE, sent)
        assert answered.status_code == 200
    assert list(IssuedSheet.objects.values_list("serial", "place", "of", "issued_to")) == [
        (1, 1, 2, "the night shift"),
        (2, 2, 2, "the night shift"),
        (3, 1, 1, "the night shift"),
    ]
    last = pages_of(answered.content)[0]
    assert "Sheet BS0003, 1 of 1" in last
    assert "Tear off here and keep" in last
    assert "Issued to the night shift" in last
    assert browser_of(officer).post(ISSUE, {"kind": "transfer"}).status_code == 403
    assert IssuedSheet.objects.count() == 3


def test_a_long_sheet_has_its_slip_on_paper_too(site, here: Client) -> None:
    pages = pages_of(here.post(ISSUE, {"kind": "spirit_run", "copies": "2"}).content)
    for serial, place in (("BS0001", "1 of 2"), ("BS0002", "2 of 2")):
        its = [page for page in pages if f"Sheet {serial}, {place}" in page]
        assert its
        assert all(f"sheet {serial}, {place}" in page.split("Tear off here and keep")[1] for page in its)


def test_looking_at_a_blank_sheet_issues_none(site, here: Client) -> None:
    pages = pages_of(here.get(reverse("blank_sheet_pdf", args=["transfer"]), {"copies": "2"}).content)
    assert ["Specimen" in page for page in pages] == [True, True]
    assert not IssuedSheet.objects.exists()


def test_a_serial_is_found_as_people_write_it(site, staff: Person) -> None:
    issue("transfer", "Transfer", 12, person=staff)
    assert {str(sheet_called(typed)) for typed in ("BS0012", "bs12", " 12 ", "Bs 0012")} == {"BS0012"}
    for typed in ("BS0013", "13", "TR0001", "twelve", "0"):
        with pytest.raises(NoSuchSheet, match="read the serial"):
            sheet_called(typed)


def test_what_came_of_each_is_said_once_and_stays(site, here: Client, staff: Person) -> None:
    issue("transfer", "Transfer", 2, person=staff)
    page = here.post(RETURNED, {"serial": "bs1", "what": "spoilt"}, follow=True).content.decode()
    assert "BS0001 taken back: spoilt." in page
    assert "Spoilt" in page
    again = here.post(RETURNED, {"serial": "BS0001", "what": "used"}, follow=True).content.decode()
    assert "was taken back before" in again
    assert "No blank sheet" in here.post(RETURNED, {"serial": "77", "what": "used"}, follow=True).content.decode()
    with pytest.raises(DatabaseError):
        IssuedSheet.objects.update(issued_to="somebody else")


def test_a_record_from_paper_keeps_its_serial_on_page_print_and_proof(
    loaded_month, here: Client, staff: Person
) -> None:
    issue("spirit_run", "Spirit still run", 1, person=staff)
    record = Record.objects.get(number="SR0007")
    before = dict(Version.objects.filter(record=record).values_list("serial", "digest"))
    hands = Hands(blank_sheet="BS0001")
    recording.correct(record, {"spent_lees_litres": "1"}, person=staff, reason="read anew", hands=hands)
    latest = Version.objects.filter(record=record).latest("serial")
    assert latest.blank_sheet == "BS0001"
    assert '"blank_sheet":"BS0001"' in line_of_version(latest, before=before[latest.serial - 1])
    page = here.get(reverse("record", args=["spirit_run", "SR0007"])).content.decode()
    assert "from blank sheet BS0001" in page
    pdf = here.get(reverse("record_pdf", args=["spirit_run", "SR0007"])).content
    assert "First written on blank sheet BS0001." in " ".join(pages_of(pdf))
    assert "SR0007" in here.get(ISSUED).content.decode()
    assert prove().places == []


def test_versions_without_a_serial_have_the_digest_they_had(loaded_month) -> None:
    for version in Version.objects.select_related("record", "person").filter(serial=1)[:20]:
        line = line_of_version(version, before="")
        assert "blank_sheet" not in json.loads(line)
        assert digest_of(version, before="") == version.digest


def test_the_form_takes_a_serial_and_says_where_there_is_none(site, here: Client, staff: Person) -> None:
    issue("transfer", "Transfer", 1, person=staff)
    form = here.get(reverse("record_new", args=["transfer"]), {"blank_sheet": "BS0001"}).content.decode()
    assert 'name="blank_sheet" value="BS0001"' in form
    refused = here.post(reverse("record_new", args=["transfer"]), {"blank_sheet": "BS0009"}).content.decode()
    assert "No blank sheet &#x27;BS0009&#x27; was issued" in refused
    assert 'value="BS0009"' in refused
