"""What a second person has signed is changed by two people, and a name goes under the version that was on the page.

The plain plant: a litre a millimetre at 20 °C, so a vat of 1,000 mm at 60.0 % holds 600 litres of pure alcohol.
"""

from __future__ import annotations

import io
from collections.abc import Callable
from datetime import UTC, datetime

import pytest
from django.db import DatabaseError, transaction
from django.test import Client
from pypdf import PdfReader

from batches.models import Posted, Record, Signature, State
from batches.records import recording
from batches.records.recording import MovedOn
from batches.records.versions import newest
from batches.sheets.typed.read_sheet import Unfit
from distillery.people.models import Person
from ledger.models import Balance, Movement
from ledger.periods.readiness import not_ready
from ledger.proof.proving import prove
from tests.signing import seen_on

from .tiny_plant import gauge

pytestmark = pytest.mark.django_db

AT = "2027-03-31T06:00"
LATER = datetime(2027, 6, 1, tzinfo=UTC)
PersonOf = Callable[..., Person]
BrowserOf = Callable[[Person], Client]


def rows(dip: str) -> list[dict[str, str]]:
    return [{"vessel": "VA", **gauge("gauge", dip, "60.0")}]


def book() -> float:
    return Balance.objects.get(account__code="vessel:VA").balance_ul / 1e6


def page_of(record: Record, browser: Client) -> str:
    return browser.get(f"/records/stock_take/{record.number}/").content.decode()


def paper_of(record: Record, browser: Client) -> str:
    pdf = browser.get(f"/records/{record.kind}/{record.number}/record.pdf")
    return " ".join(" ".join(one.extract_text() for one in PdfReader(io.BytesIO(pdf.content)).pages).split())


@pytest.fixture
def waiting(opened: Callable[..., Record], staff: Person) -> Record:
    """A stock take that says 1,010 mm where the book holds 1,000."""
    opened("VA", "1000", "60.0")
    return recording.save("stock_take", None, {"at": AT}, rows("1010"), person=staff)


@pytest.fixture
def signed(waiting: Record, manager: Person) -> Record:
    return recording.countersign(waiting, manager)


def again(record: Record) -> Record:
    return Record.objects.get(pk=record.pk)


class TestACorrectionOfWhatWasSigned:
    @pytest.fixture
    def corrected(self, signed: Record, staff: Person) -> Record:
        recording.correct(signed, {}, rows("400"), person=staff, reason="Read again.")
        return again(signed)

    def test_posts_nothing_by_one_person(self, corrected: Record) -> None:
        assert corrected.state == State.WAITING
        assert corrected.second is None
        assert Posted.objects.filter(record=corrected).count() == 1
        assert book() == pytest.approx(606, abs=1e-4)
        assert prove().broken == []

    def test_is_posted_by_two_whose_names_stand_under_it(
        self, corrected: Record, staff: Person, manager: Person, person_of: PersonOf
    ) -> None:
        other = person_of("test-other", "staff")
        recording.countersign(corrected, other)
        assert book() == pytest.approx(240, abs=1e-4)
        newest_movement = Posted.objects.filter(record=corrected).latest("pk").movement
        assert (newest_movement.person, newest_movement.second) == (staff, other)
        assert newest_movement.reason == "Read again."
        assert again(corrected).second == other
        agreed = Signature.objects.filter(record=corrected, what="agreed").order_by("pk")
        assert [(one.version.serial, one.person) for one in agreed] == [(1, manager), (2, other)]
        assert prove().broken == []

    def test_not_by_whoever_wrote_it(self, corrected: Record, staff: Person) -> None:
        with pytest.raises(Unfit, match="someone else has to agree"):
            recording.countersign(corrected, staff)
        assert book() == pytest.approx(606, abs=1e-4)

    def test_nor_by_the_second_person_who_corrects_alone(self, signed: Record, manager: Person) -> None:
        recording.correct(signed, {}, rows("400"), person=manager, reason="Read again.")
        with pytest.raises(Unfit, match="someone else has to agree"):
            recording.countersign(signed, manager)
        assert book() == pytest.approx(606, abs=1e-4)

    def test_page_and_paper_say_so_and_name_nobody_under_the_new_version(
        self, corrected: Record, staff: Person, manager: Person, browser_of: BrowserOf
    ) -> None:
        said = "Changed since it was countersigned: test-manager agreed to version 1"
        page = page_of(corrected, browser_of(staff))
        assert said in page
        assert "the books hold version 1" in page.replace("\n", " ")
        assert "Second person" not in page
        paper = paper_of(corrected, browser_of(staff))
        assert said in paper
        assert "Checked by Name test-manager" not in paper
        assert "Checked by" in paper
        assert "test-manager" not in paper.partition("Measured by")[2], "no name on the line of who checked"

    def test_stands_in_the_way_of_closing_with_a_link(self, corrected: Record) -> None:
        [found] = [one for one in not_ready("2027-03", now=LATER) if one.sentence.startswith("Stock take ST0001")]
        assert found.must
        assert found.href == "/records/stock_take/ST0001/"
        assert "was changed since it was countersigned" in found.sentence
        said = [one.sentence for one in not_ready("2027-03", now=LATER)]
        assert not [one for one in said if one.startswith("No stock was taken")], "it is in the books as it was signed"

    def test_sent_back_leaves_what_was_signed(self, corrected: Record, manager: Person, browser_of: BrowserOf) -> None:
        recording.send_back(corrected, person=manager, reason="It was 1,010.")
        record = again(corrected)
        assert (record.state, record.second) == (State.COMPLETE, manager)
        assert "1010" in newest(record).rows
        assert book() == pytest.approx(606, abs=1e-4)
        page = page_of(record, browser_of(manager))
        assert "Changed since" not in page
        assert "version 1, by test-manager" in page
        with pytest.raises(Unfit, match="can be sent back"):
            recording.send_back(record, person=manager, reason="Again.")

    def test_put_back_to_what_was_signed_needs_no_second_signature(
        self, corrected: Record, staff: Person, manager: Person
    ) -> None:
        recording.correct(corrected, {}, rows("1010"), person=staff, reason="It was right.")
        assert (again(corrected).state, again(corrected).second) == (State.COMPLETE, manager)
        assert Posted.objects.filter(record=corrected).count() == 1

    def test_another_entry_meanwhile_goes_on_from_what_the_books_hold(
        self, corrected: Record, write: Callable[..., Record], manager: Person, staff: Person
    ) -> None:
        write(
            "transfer",
            None,
            at="2027-03-30T08:00",
            from_vessel="VA",
            to_vessel="SP",
            **gauge("from_before", "1000", "60"),
            **gauge("to_before", "0"),
            **gauge("from_after", "900", "60"),
            **gauge("to_after", "100", "60"),
        )
        assert book() == pytest.approx(606, abs=1e-4), "the stock take that was signed still stands"
        recording.countersign(again(corrected), manager)
        assert book() == pytest.approx(240, abs=1e-4)
        assert prove().broken == []


class TestMakingVoidWhatWasSigned:
    def test_waits_for_a_second_person(self, signed: Record, staff: Person, manager: Person) -> None:
        recording.void(signed, person=staff, reason="Never taken.")
        assert again(signed).state == State.WAITING
        assert book() == pytest.approx(606, abs=1e-4)
        with pytest.raises(Unfit, match="someone else has to agree"):
            recording.countersign(signed, staff)
        with pytest.raises(Unfit, match="asked for it already"):
            recording.void(signed, person=manager, reason="Never taken.")
        recording.countersign(signed, manager)
        assert again(signed).state == State.VOID
        assert book() == pytest.approx(600, abs=1e-4)
        back = Movement.objects.filter(record_number=signed.number).latest("pk")
        assert (back.person, back.second) == (staff, manager)
        assert prove().broken == []

    def test_the_page_says_what_is_asked(self, signed: Record, staff: Person, browser_of: BrowserOf) -> None:
        recording.void(signed, person=staff, reason="Never taken.")
        page = page_of(signed, browser_of(staff))
        assert "test-staff asks that it be made void" in page
        assert "Never taken." in page

    def test_sent_back_it_stands(self, signed: Record, staff: Person, manager: Person) -> None:
        recording.void(signed, person=staff, reason="Never taken.")
        recording.send_back(signed, person=manager, reason="It was.")
        assert (again(signed).state, again(signed).second) == (State.COMPLETE, manager)
        assert book() == pytest.approx(606, abs=1e-4)

    def test_one_that_nobody_signed_needs_no_second(self, waiting: Record, staff: Person) -> None:
        recording.void(waiting, person=staff, reason="Never taken.")
        assert again(waiting).state == State.VOID


class TestTheVersionOnThePage:
    def test_another_version_is_not_signed(self, waiting: Record, staff: Person, manager: Person) -> None:
        seen = newest(waiting).digest
        recording.correct(waiting, {}, rows("10"), person=staff, reason="Read again.")
        with pytest.raises(MovedOn):
            recording.countersign(waiting, manager, seen=seen)
        assert again(waiting).state == State.WAITING
        assert not Posted.objects.filter(record=waiting).exists()
        recording.countersign(waiting, manager, seen=newest(waiting).digest)
        assert again(waiting).state == State.COMPLETE

    def test_both_versions_are_shown(
        self, waiting: Record, staff: Person, manager: Person, browser_of: BrowserOf
    ) -> None:
        browser, address = browser_of(manager), f"/records/stock_take/{waiting.number}/"
        opened = seen_on(browser.get(address))
        recording.correct(waiting, {}, rows("10"), person=staff, reason="Read again.")
        answer = browser.post(f"{address}countersign/", opened)
        page = answer.content.decode()
        assert answer.status_code == 409
        assert "test-staff wrote version 2" in page
        assert "your page showed version 1, so nothing was signed" in page
        assert "1010" in page
        assert ">10<" in page.replace(" ", "").replace("\n", "")
        assert again(waiting).state == State.WAITING
        assert browser.post(f"{address}countersign/").status_code == 409, "a page that says nothing of its version"
        browser.post(f"{address}countersign/", seen_on(browser.get(address)))
        assert again(waiting).state == State.COMPLETE

    def test_a_void_asked_for_meanwhile_is_not_agreed_to_unseen(
        self, signed: Record, staff: Person, person_of: PersonOf, browser_of: BrowserOf
    ) -> None:
        recording.correct(signed, {}, rows("400"), person=staff, reason="Read again.")
        browser, address = browser_of(person_of("test-other", "staff")), f"/records/stock_take/{signed.number}/"
        opened = seen_on(browser.get(address))
        recording.void(signed, person=staff, reason="Never taken.")
        page = browser.post(f"{address}countersign/", opened).content.decode()
        assert "asked to be made void: Never taken." in page
        assert again(signed).state == State.WAITING

    def test_what_is_sent_back_is_what_was_on_the_page(
        self, signed: Record, staff: Person, manager: Person, browser_of: BrowserOf
    ) -> None:
        recording.correct(signed, {}, rows("400"), person=staff, reason="Read again.")
        browser, address = browser_of(manager), f"/records/stock_take/{signed.number}/"
        opened = seen_on(browser.get(f"{address}send-back/"))
        recording.correct(signed, {}, rows("500"), person=staff, reason="Read again.")
        assert browser.post(f"{address}send-back/", {"reason": "No."} | opened).status_code == 409
        browser.post(f"{address}send-back/", {"reason": "No."} | seen_on(browser.get(f"{address}send-back/")))
        assert again(signed).state == State.COMPLETE


@pytest.mark.parametrize("act", ["update", "delete"])
def test_a_signature_is_a_fact(signed: Record, act: str) -> None:
    rows_of = Signature.objects.filter(record=signed)
    with pytest.raises(DatabaseError), transaction.atomic():
        rows_of.update(at=LATER) if act == "update" else rows_of.delete()


class TestFiguresThatWereWorkedOutAnewSince:
    """A regauge that was countersigned is posted anew, without its second person, by an earlier one written late."""

    @pytest.fixture
    def regauge(self, write: Callable[..., Record], staff: Person, manager: Person) -> Record:
        write("opening_cask", number="C1", filled_at="2025-03-06T02:00", tare_kg="50", gross_kg="230", percent="63.5")
        weighing: dict[str, str] = {"tare_kg": "50", "celsius": "20", "hydrometer_percent": "63.0", "cask": "C1"}
        record = recording.save(
            "regauge", "RG0002", {"at": "2027-03-06T08:00", "gross_kg": "222", **weighing}, person=staff, second=manager
        )
        assert record.second == manager
        write("regauge", "RG0001", at="2026-03-06T08:00", gross_kg="227.5", **weighing)
        return again(record)

    def test_nobody_is_named_under_them(self, regauge: Record, manager: Person, browser_of: BrowserOf) -> None:
        assert Posted.objects.filter(record=regauge).latest("pk").movement.second is None
        assert regauge.second is None
        page = browser_of(manager).get("/records/regauge/RG0002/").content.decode()
        assert "nobody has agreed to version 2, which stands in the books" in page
        assert "test-manager" not in paper_of(regauge, browser_of(manager)).partition("Measured by")[2]

    def test_they_stand_in_the_way_until_somebody_agrees(
        self, regauge: Record, person_of: PersonOf, browser_of: BrowserOf
    ) -> None:
        def in_the_way() -> list[str]:
            return [one.href for one in not_ready("2027-03", now=LATER) if "RG0002" in one.href]

        assert in_the_way() == ["/records/regauge/RG0002/"]
        other = person_of("test-other", "staff")
        browser = browser_of(other)
        browser.post("/records/regauge/RG0002/countersign/", seen_on(browser.get("/records/regauge/RG0002/")))
        assert again(regauge).second == other
        assert in_the_way() == []
