"""Whether a page on paper still agrees with the books can be asked by anybody who has signed on."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable

import pytest
from django.db import connection
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from batches.models import Record, Version
from batches.pages.records.printed import record_sheet
from batches.pages.records.shown import RecordAsWritten
from batches.recalls.recalling import recall
from batches.records import recording
from batches.steps import sheet_of
from distillery.database.guards import remove
from distillery.people.models import Person
from distillery.printing.documents.record_sheet import record_digest
from distillery.trail.checks import all_guards
from ledger.models import Movement
from ledger.proof.checking import NoDigest, read_digest

AGREES = "This page agrees with the books"
APART = "This page does not agree with the books"


@pytest.fixture
def reader(officer: Person, browser_of: Callable[[Person], Client]) -> Client:
    return browser_of(officer)


def asked(browser: Client, digest: str, number: str = "") -> str:
    answer = browser.get(reverse("check_digest"), {"digest": digest, "number": number})
    assert answer.status_code == 200
    return answer.content.decode()


def foot_of(browser: Client, address: str) -> str:
    """The digest as it stands at the foot of a printed page, in fours."""
    text = PdfReader(io.BytesIO(browser.get(address).content)).pages[0].extract_text()
    fours = [line.strip() for line in text.splitlines()]
    return next(line for line in fours if len(line) == 19 and not set(line) - set("0123456789abcdef "))


class TestWhatIsTyped:
    @pytest.mark.parametrize(
        "typed", ["9f3c71d044abe802", "9f3c 71d0 44ab e802", " 9F3C-71D0-44AB-E802 ", "9f3c7ld044abe8o2"]
    )
    def test_spaces_capitals_and_letters_taken_for_figures_make_no_difference(self, typed: str) -> None:
        assert read_digest(typed) == "9f3c71d044abe802"

    def test_what_is_no_digest_is_refused_by_a_sentence(self) -> None:
        with pytest.raises(NoDigest, match="has 'g' in it"):
            read_digest("9f3c 71g0")
        with pytest.raises(NoDigest, match="4 figures long; type at least 8"):
            read_digest("9f3c")
        with pytest.raises(NoDigest, match="65 figures long"):
            read_digest("a" * 65)


class TestThePage:
    def test_says_what_to_do_before_anything_is_typed(self, db: None, reader: Client) -> None:
        page = reader.get(reverse("check_digest")).content.decode()
        assert "Type it here" in page
        assert AGREES not in page

    def test_puts_what_is_wrong_beside_the_box(self, db: None, reader: Client) -> None:
        assert "Digest is blank" in asked(reader, "")
        wrong = asked(reader, "not a digest")
        assert "with 0 to 9 and a to f only" in wrong
        assert "<title>Error: " in wrong

    def test_is_not_for_strangers(self, db: None, stranger: Client) -> None:
        assert stranger.get(reverse("check_digest")).status_code == 302

    def test_is_led_to_from_records_and_the_foot_of_every_page(self, db: None, reader: Client) -> None:
        assert reader.get(reverse("records")).content.decode().count(reverse("check_digest")) == 2

    def test_says_plainly_that_nothing_is_known(self, db: None, reader: Client) -> None:
        page = asked(reader, "0123 4567 89ab cdef")
        assert "No such digest in the books" in page
        assert "type the number from the head of that page" in page


class TestDigests:
    def test_a_seal_leads_to_its_movement(self, loaded_month, reader: Client) -> None:
        movement = Movement.objects.get(pk=100)
        page = asked(reader, movement.seal[:16])
        assert AGREES in page
        assert reverse("movement", kwargs={"number": 100}) in page

    def test_a_movement_changed_by_hand_does_not_agree(self, loaded_month, reader: Client) -> None:
        remove(connection, all_guards(connection))
        Movement.objects.filter(pk=100).update(reason="another")
        page = asked(reader, Movement.objects.get(pk=100).seal)
        assert APART in page
        assert "does not give this seal" in page

    def test_a_version_leads_to_its_record_and_says_what_stands_in_its_place(
        self, loaded_month, reader: Client, staff: Person
    ) -> None:
        record = Record.objects.get(number="SR0007")
        version = Version.objects.filter(record=record).latest("serial")
        assert AGREES in asked(reader, version.digest)
        remove(connection, all_guards(connection))
        Version.objects.filter(pk=version.pk).update(notes='["another"]')
        assert APART in asked(reader, version.digest[:12])

    def test_the_foot_of_a_printed_record_agrees_until_the_record_is_corrected(
        self, loaded_month, reader: Client, staff: Person
    ) -> None:
        record = Record.objects.get(number="SR0007")
        foot = foot_of(reader, reverse("record_pdf", args=[record.kind, record.number]))
        assert AGREES in asked(reader, foot)
        assert AGREES in asked(reader, foot, "SR0007, version 1")
        typed = {"spent_lees_litres": "1"}
        recording.correct(record, typed, person=staff, reason="read anew")
        page = asked(reader, foot, "sr0007")
        assert APART in page
        assert "What is other now: " in page
        assert "corrections" in page

    def test_the_foot_of_a_printed_month_agrees(self, loaded_month, reader: Client) -> None:
        foot = foot_of(reader, reverse("month_pdf", args=["2027-03"]))
        assert AGREES in asked(reader, foot, "MS-2027-03")
        assert APART in asked(reader, "0123456789abcdef", "MS-2027-03")
        assert AGREES in asked(reader, foot, "MS-2027-99")
        assert "No such digest" in asked(reader, "0123456789abcdef", "MS-2027-99")

    def test_a_page_that_stands_in_no_register_is_worked_out_anew_by_its_number(
        self, loaded_month, reader: Client, staff: Person
    ) -> None:
        record = Record.objects.get(number="SR0007")
        digest = record_digest(record_sheet(RecordAsWritten(record, sheet_of(record.kind))))
        assert "type the number" in asked(reader, digest)
        assert AGREES in asked(reader, digest, "SR0007, version 1")
        recording.correct(record, {"spent_lees_litres": "1"}, person=staff, reason="read anew")
        page = asked(reader, digest, "sr0007")
        assert APART in page
        assert "stands since" in page

    @pytest.mark.parametrize(
        ("address", "number"),
        [
            ("/trace/trace.pdf?ref=BO0001", "BO0001"),
            ("/recalls/touched/recall.pdf?ref=M001", "m001"),
            ("/casks/2022/0001/cask.pdf", "2022/0001, Fri 2 Apr 2027"),
        ],
    )
    def test_the_foot_of_what_was_traced_or_said_of_a_cask_agrees(
        self, loaded_month, reader: Client, address: str, number: str
    ) -> None:
        foot = foot_of(reader, address)
        page = asked(reader, foot, number)
        assert AGREES in page
        assert APART not in page
        assert AGREES in asked(reader, foot)
        assert APART in asked(reader, "0123456789abcdef", number)

    def test_the_foot_of_what_something_touched_agrees_until_it_is_recalled(
        self, loaded_month, reader: Client, staff: Person
    ) -> None:
        foot = foot_of(reader, "/recalls/touched/recall.pdf?ref=M001")
        recall("M001", person=staff, reason="beetles in the sack")
        assert APART in asked(reader, foot, "M001")
        assert AGREES in asked(reader, foot_of(reader, "/recalls/touched/recall.pdf?ref=M001"), "M001")


class TestExport:
    def test_is_one_archive_that_proves_without_the_program(self, loaded_month, reader: Client, tmp_path) -> None:
        assert reverse("export_zip") in reader.get(reverse("export")).content.decode()
        answer = reader.get(reverse("export_zip"))
        assert answer.streaming
        last = Movement.objects.latest("pk")
        assert f"ledger-{last.pk}-{last.seal[:8]}.zip" in answer["Content-Disposition"]
        with zipfile.ZipFile(io.BytesIO(b"".join(answer.streaming_content))) as archive:
            assert archive.testzip() is None
            archive.extractall(tmp_path)
        [folder] = tmp_path.iterdir()
        from ledger.standalone.verify_export import Broken, verify

        assert f"{last.pk} movements, every seal holds" in verify(folder)
        versions = (folder / "versions.jsonl").read_text(encoding="utf-8")
        assert len(versions.splitlines()) == Version.objects.count()
        changed = versions.replace("spent_lees_litres", "spent_lees_percent", 1)
        (folder / "versions.jsonl").write_text(changed, encoding="utf-8")
        with pytest.raises(Broken, match="its content does not give its digest"):
            verify(folder)

    def test_is_not_for_the_shift(self, db: None, staff: Person, browser_of: Callable[[Person], Client]) -> None:
        browser = browser_of(staff)
        assert browser.get(reverse("export")).status_code == 403
        assert browser.get(reverse("export_zip")).status_code == 403


class TestAnExportOfNothing:
    def test_is_not_offered(self, db: None, reader: Client) -> None:
        assert "so there is nothing to export" in reader.get(reverse("export")).content.decode()
