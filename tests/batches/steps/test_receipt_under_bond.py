"""A receipt under bond, worked by hand on the plain plant: a litre a millimetre, everything read at 20 °C.

The document says 2,000 litres at 96.0 % vol: 1,920 litres of pure alcohol. The gauge finds 1,990 litres at 96.0 in an
empty tank: 1,910.4. So 9.6 are missing, 0.5 % of what was sent. Consignor, numbers and figures are invented.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest
from django.test import Client

from batches.loading.load_folder import load_folder
from batches.models import Record, State
from batches.pages.records.shown import RecordAsWritten
from batches.records import recording
from batches.sheets.typed.read_sheet import Unfit
from batches.steps import sheet_of
from batches.tracing.trace import trace_forward
from distillery.people.models import Person
from distillery.process.product_names import Outcome
from ledger.comparing.unaccounted import left_by_records
from ledger.models import Balance, Leg, Movement
from ledger.statements.month import month_account
from tests.batches.results import made_under, outcome_in
from tests.batches.tiny_month import write_folder
from tests.batches.tiny_plant import gauge

Write = Callable[..., Record]

DELIVERY = {
    "received_at": "2027-03-04T10:00",
    "consignor": "Carrow Grain Spirits",
    "document": "27GBHM000000000000417",
    "lot": "NS-204",
    "spirit": "neutral spirit",
    "seals": "intact",
    "consignor_litres": "2000",
    "consignor_percent": "96.0",
    "consignor_lpa": "1920.0",
    "tank": "GI",
    **gauge("tank_before", "0"),
    **gauge("tank_after", "1990", "96.0"),
}
CERTIFICATE = {
    "certificate": "C-88",
    "distilled_percent": "96.4",
    "origin": "agricultural",
    "base_material": "wheat",
    "methanol_g_per_hl": "4.2",
}
REPORTED = {"reported_at": "2027-03-05T09:00", "report_reference": "R-12"}


def legs(number: str) -> dict[str, float]:
    """What a record's entries did to each account, litres of pure alcohol."""
    found: dict[str, int] = {}
    for code, pure_ul in Leg.objects.filter(movement__record_number=number).values_list("account__code", "pure_ul"):
        found[code] = found.get(code, 0) + pure_ul
    return {code: round(pure_ul / 1e6, 3) for code, pure_ul in found.items() if pure_ul}


def of(record: Record) -> RecordAsWritten:
    return RecordAsWritten(record, sheet_of(record.kind))


@pytest.fixture
def receipt(write: Write) -> Record:
    return write("receipt_under_bond", "RB0001", **DELIVERY, **CERTIFICATE)


def test_it_is_taken_to_account_as_gauged(receipt: Record) -> None:
    assert legs("RB0001") == {
        "source:received under bond": -1920.0,
        "vessel:GI": 1910.4,
        "difference:receipt under bond": 9.6,
    }
    assert Balance.objects.get(account__code="vessel:GI").balance_ul / 1e6 == pytest.approx(1910.4, abs=1e-3)
    account = month_account("2027-03")
    assert account.foots
    assert dict(account.differences) == {"difference, receipt under bond": pytest.approx(9_600_000, abs=500)}


def test_the_difference_is_judged_against_the_consignors_figure(receipt: Record) -> None:
    movement = Movement.objects.get(record_number="RB0001")
    assert movement.judged_against == "the consignor's figure"
    assert (movement.judged_ul or 0) / 1e6 == pytest.approx(1920.0, abs=1e-3)
    left = left_by_records(["RB0001"])["RB0001"]
    assert left.difference_ul / 1e6 == pytest.approx(9.6, abs=1e-3)
    assert left.share == pytest.approx(0.005, abs=1e-5)
    assert left.threshold_ul / 1e6 == pytest.approx(19.2, abs=1e-3)
    assert not left.is_beyond
    assert left.uncertainty_ul > 0


def test_it_waits_for_the_report_of_receipt(receipt: Record, write: Write) -> None:
    assert receipt.state == State.OPEN
    done = write("receipt_under_bond", "RB0001", (), **REPORTED)
    assert done.state == State.COMPLETE
    assert Movement.objects.filter(record_number="RB0001").count() == 1


def test_a_shortage_beyond_the_threshold_is_reported_with_its_reason(write: Write) -> None:
    short = DELIVERY | gauge("tank_after", "1960", "96.0")
    record = write("receipt_under_bond", "RB0001", **short)
    assert "beyond the review threshold" in of(record).remarks[0].sentence
    to_report = made_under(record, "To be reported")
    assert any("Excise Notice 197" in line.cells[3] and "shortage" in line.cells[0] for line in to_report.lines)
    # Five business days after Thursday 4 March.
    assert any("Thu 11 Mar" in line.cells[2] for line in to_report.lines)
    with pytest.raises(Unfit, match=r"38\.40 LPA \(2\.00 %\) less arrived than the consignor says"):
        write("receipt_under_bond", "RB0001", (), **REPORTED)
    assert write("receipt_under_bond", "RB0001", (), **REPORTED, difference_reason="hose left full").happened_to


def test_signs_of_tampering_are_told_at_once(write: Write) -> None:
    record = write("receipt_under_bond", "RB0001", **(DELIVERY | {"seals": "broken or missing"}))
    to_report = made_under(record, "To be reported")
    assert any("reg 11(3)" in line.cells[3] and "at once" in line.cells[2] for line in to_report.lines)
    assert any("tell the officer" in one.sentence for one in of(record).remarks)


def test_a_document_whose_figures_do_not_agree_is_noted(write: Write) -> None:
    # As a published case does (181 L at 63.5 % are 114.9 LPA, not 115.9): www.kingsbarnsdistillery.com, 2015.
    record = write("receipt_under_bond", "RB0001", **(DELIVERY | {"consignor_lpa": "1936.8"}))
    assert any("1,936.8 LPA" in one.sentence and "1,920.0" in one.sentence for one in of(record).remarks)


def test_what_the_certificate_does_not_say_is_not_proven(receipt: Record) -> None:
    checks = made_under(receipt, "Ethyl alcohol")
    outcomes = {line.cells[0].split(" at ")[0]: outcome_in(line) for line in checks.lines}
    assert outcomes["Distilled to"] == Outcome.PASS
    assert outcomes["Methanol"] == Outcome.PASS
    assert outcomes["Furfural not detected"] == Outcome.NOT_PROVEN


def test_its_lot_is_traced_to_where_the_spirit_went(
    receipt: Record, write: Write, opened: Callable[..., Record]
) -> None:
    moved = gauge("from_before", "1990", "96.0") | gauge("to_before", "0")
    moved |= gauge("from_after", "990", "96.0") | gauge("to_after", "1000", "96.0")
    write("transfer", "TR0001", at="2027-03-06T10:00", from_vessel="GI", to_vessel="VA", **moved)
    found = {(one.kind, one.record): one.share for one in trace_forward("NS-204")}
    assert ("transfer", "TR0001") in found
    assert found["vessel", "VA"] + found["vessel", "GI"] == pytest.approx(1.0)


def test_a_correction_of_the_documents_figure_is_posted_anew(receipt: Record, staff: Person) -> None:
    recording.correct(
        receipt, {"consignor_litres": "1991", "consignor_lpa": ""}, person=staff, reason="misread", sure=True
    )
    assert legs("RB0001")["difference:receipt under bond"] == pytest.approx(0.96, abs=1e-3)
    assert legs("RB0001")["vessel:GI"] == 1910.4


def test_pages_list_print_and_blank_sheet(
    receipt: Record, browser_of: Callable[[Person], Client], staff: Person
) -> None:
    browser = browser_of(staff)
    page = browser.get("/records/receipt_under_bond/RB0001/").content.decode()
    assert "Sent and arrived" in page
    assert "Not proven" in page
    assert "Carrow Grain Spirits" in browser.get("/records/receipt_under_bond/").content.decode()
    assert browser.get("/records/receipt_under_bond/RB0001/record.pdf").content[:4] == b"%PDF"
    assert browser.get("/records/receipt_under_bond/new/").status_code == 200


def test_it_comes_in_a_table(db: None, tmp_path: Path) -> None:
    given = {"receipt": "RB0001"} | DELIVERY | CERTIFICATE | REPORTED | {"tank": "N1"}
    given |= {"tank_before_hydrometer_percent": ""}
    table = f"{','.join(given)}\n{','.join(given.values())}\n"
    folder = write_folder(tmp_path, receipts_under_bond=table)
    for name, more in {
        "vessels": "N1,Neutral spirit tank,tank,rectified and compounded,5000\n",
        "calibration": "N1,0,0\nN1,5000,5000\n",
    }.items():
        with (folder / f"plant/{name}.csv").open("a", encoding="utf-8") as file:
            file.write(more)
    load_folder(folder)
    record = Record.objects.get(number="RB0001")
    assert record.state == State.COMPLETE
    assert record.happened_from == datetime(2027, 3, 4, 10, tzinfo=UTC)
