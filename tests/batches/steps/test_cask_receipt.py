"""Casks that come full under bond: both figures, a vessel each, and what is missing.

236.4 kg of a cask of 52.2 at 63.5 % vol and 20 °C are 204.65 L and 129.95 LPA (rows P076 and P077 of
`tests/data/process_checks.csv`, OIML R 22 and the buoyancy of air). The document says 206 L and 204 L at 63.5 % vol:
130.81 and 129.54 LPA. Consignor, numbers and figures are invented.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client

from batches.models import Record, State
from batches.pages.records.shown import RecordAsWritten
from batches.records import recording
from batches.records.asking import Asked
from batches.sheets.typed.read_sheet import Unfit
from batches.steps import sheet_of
from distillery.people.models import Person
from distillery.plant.models import Vessel
from ledger.models import Balance
from ledger.proof.proving import prove
from ledger.statements.month import month_account
from tests.batches.results import made_under

Write = Callable[..., Record]
DELIVERY = {
    "received_at": "2027-03-04T10:00",
    "consignor": "Carrow Low Bond",
    "document": "27GBHM000000000000420",
    "lot": "CL-2031",
    "spirit": "new make",
    "seals": "intact",
}
WEIGHED = {"gross_kg": "236.4", "tare_kg": "52.2", "celsius": "20.0", "hydrometer_percent": "63.5"}
NEW = {"cask_kind": "barrel", "nominal_litres": "200", "warehouse": "W2", "fill_number": "1", **WEIGHED}
FIRST = {"cask": "2021/0301", "consignor_litres": "206", "consignor_percent": "63.50", **NEW}
SECOND = {"cask": "2021/0302", "consignor_litres": "204", "consignor_percent": "63.50", **NEW}


@pytest.fixture
def receive(plain_plant: None, staff: Person) -> Callable[..., Record]:
    def save(*lines: dict[str, str], **more: str) -> Record:
        values = {**DELIVERY, **more}
        agreed: set[str] = set()
        for _ in range(3):
            try:
                return recording.save("cask_receipt", None, values, list(lines), person=staff, sure=agreed)
            except Asked as asked:
                agreed |= {question.key for question in asked.questions}
        raise AssertionError("the same is asked again and again")

    return save


def lpa(code: str) -> float:
    return Balance.objects.get(account__code=code).balance_ul / 1e6


def test_each_cask_is_a_vessel_with_both_figures(receive: Callable[..., Record]) -> None:
    record = receive({**FIRST, "filled_at": "2021-05-06T09:00"}, SECOND)
    vessel = Vessel.objects.get(code="2021/0301")
    assert (vessel.cask.warehouse, vessel.cask.tare_g, vessel.cask.fill_number) == ("W2", 52_200, 1)
    assert vessel.cask.filled_at is not None
    assert vessel.cask.filled_at.year == 2021
    assert lpa("vessel:2021/0301") == pytest.approx(129.95, abs=0.04)
    assert lpa("source:received under bond") == pytest.approx(-260.35, abs=1e-6)
    assert lpa("difference:receipt under bond") == pytest.approx(260.35 - 2 * 129.95, abs=0.08)
    sent, came, short = made_under(record, "Sent and arrived").lines
    assert sent.cells[1:4] == ("410.0", "63.50", "260.35")
    assert came.cells[0] == "Arrived, by the gauge"
    assert short.cells[0] == "Shortage"
    assert [line.cells[0] for line in made_under(record, "Cask by cask").lines] == ["2021/0301", "2021/0302"]
    assert made_under(record, "To be reported").lines
    assert month_account("2027-03").foots
    assert prove().broken == []


def test_a_document_that_does_not_agree_with_itself_is_said(receive: Callable[..., Record]) -> None:
    """Published figures of a cask (www.kingsbarnsdistillery.com, 2015): 181 L at 63.5 are 114.9 LPA, not 115.9."""
    record = receive({**FIRST, "consignor_litres": "181", "consignor_percent": "63.5", "consignor_lpa": "115.9"})
    said = [one.sentence for one in RecordAsWritten(record, sheet_of(record.kind)).remarks]
    assert any("the document says 115.9 LPA, but its litres at its strength are 114.9" in one for one in said)


def test_a_shortage_is_reported_with_its_reason_and_broken_seals_are_said(
    receive: Callable[..., Record], staff: Person
) -> None:
    line = {**FIRST, "consignor_litres": "220", "consignor_lpa": "130.0"}
    record = receive(line, seals="broken or missing")
    said = [one.sentence for one in RecordAsWritten(record, sheet_of(record.kind)).remarks]
    assert any("the document says 130.0 LPA, but its litres at its strength are 139.7" in one for one in said)
    assert any("beyond the review threshold" in one for one in said)
    assert any("tell the officer at once" in one for one in said)
    with pytest.raises(Unfit, match="write the reason that is given"):
        recording.save(record.kind, record.number, {"reported_at": "2027-03-05T08:00"}, person=staff, sure=True)
    told = {"reported_at": "2027-03-05T08:00", "difference_reason": "leaked on the way"}
    assert recording.save(record.kind, record.number, told, person=staff, sure=True).state == State.COMPLETE


def test_a_cask_that_is_full_is_not_received_again(receive: Callable[..., Record]) -> None:
    receive(FIRST)
    with pytest.raises(Unfit, match="is full already"):
        receive(FIRST, received_at="2027-03-06T10:00")


def test_what_was_received_in_casks_is_taken_back_whole(receive: Callable[..., Record], staff: Person) -> None:
    record = receive(FIRST)
    recording.void(record, person=staff, reason="another site")
    assert lpa("vessel:2021/0301") == 0
    assert lpa("source:received under bond") == 0
    assert prove().broken == []


def test_its_pages_are_there(receive: Callable[..., Record], staff: Person, browser_of: Callable[..., Client]) -> None:
    record = receive(FIRST, SECOND)
    browser = browser_of(staff)
    page = browser.get(f"/records/cask_receipt/{record.number}/").content.decode()
    assert "Cask by cask" in page
    # Beside its weights a line says what they come to, not what the document says.
    assert "204.6" in page.split("236.4")[1].split("236.4")[0]
    for address in ("cask_receipt/new/", f"cask_receipt/{record.number}/record.pdf", "cask_receipt/blank-sheet.pdf"):
        assert browser.get(f"/records/{address}").status_code == 200, address
