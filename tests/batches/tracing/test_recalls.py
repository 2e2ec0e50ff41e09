"""What is recalled, what says so, what asks first, and how it ends: over the sample month; reasons are invented."""

from __future__ import annotations

import json
from collections.abc import Callable
from io import BytesIO

import pytest
from django.db import DatabaseError, connection, transaction
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from batches.models import Record
from batches.pages.recalling.found import found_by
from batches.recalls import recalling
from batches.recalls.models import EndAsked, Ended, Recall
from batches.recalls.touching import LEAST_TOUCHED, recalls_of_account, recalls_of_record, touched_by
from batches.records import recording
from batches.records.asking import Asked
from batches.sheets.typed.read_sheet import Unfit
from batches.tracing.trace import follow_trace, refer
from distillery.people.models import Person
from distillery.signed import MovedOn
from ledger.models import Account
from ledger.statements.balances import holdings

BrowserOf = Callable[[Person], Client]
REASON = "stones in the malt of this lot"
REMOVAL = {
    "at": "2027-03-30T10:00",
    "product": "gin",
    "bottle_centilitres": "70",
    "label_percent": "41.4",
    "bottles": "12",
    "kind": "export",
    "consignee": "Ferrow Stores, 2 Quay Street, Harrowmere",
    "document": "HM-0042",
}


@pytest.fixture
def recalled(loaded_month: None, staff: Person) -> Recall:
    return recalling.recall("m001", person=staff, reason=REASON)


def stock() -> Account:
    return Account.objects.get(kind="stock", code="stock:gin/70/41.4")


class TestARecall:
    def test_is_marked_once_by_who_may_write(self, recalled: Recall, manager: Person, officer: Person) -> None:
        assert (recalled.ref, recalled.what, recalled.reason) == ("M001", "malt lot", REASON)
        with pytest.raises(Unfit, match="recalled already"):
            recalling.recall("M001", person=manager, reason="again")
        with pytest.raises(Unfit, match="may read but not write"):
            recalling.recall("M002", person=officer, reason="seen")
        with pytest.raises(Unfit, match="no record, lot, vessel or cask"):
            recalling.recall("Q999", person=manager, reason="who knows")
        with pytest.raises(Unfit, match="Why is blank"):
            recalling.recall("M002", person=manager, reason=" ")

    def test_ends_in_two_names_under_what_was_on_the_page(
        self, recalled: Recall, staff: Person, manager: Person
    ) -> None:
        with pytest.raises(Unfit, match="Nobody has asked"):
            recalling.agree_end(recalled, person=manager, seen=None)
        recalling.ask_end(recalled, person=staff, reason="the lot was clean, the sample was not")
        with pytest.raises(Unfit, match="has asked for its end already"):
            recalling.ask_end(recalled, person=manager, reason="so it was")
        with pytest.raises(Unfit, match="somebody else has to agree"):
            recalling.agree_end(recalled, person=staff, seen=None)
        with pytest.raises(MovedOn):
            recalling.agree_end(recalled, person=manager, seen="0" * 64)
        assert recalling.standing().exists()
        recalling.agree_end(recalled, person=manager, seen=None)
        assert not recalling.standing().exists()
        with pytest.raises(Unfit, match="ended already"):
            recalling.ask_end(recalled, person=manager, reason="once more")
        # It may be recalled anew; the old one stays to be read.
        recalling.recall("M001", person=manager, reason="stones again")
        assert recalling.recalls().count() == 2

    @pytest.mark.parametrize("table", ["recalls_recall", "recalls_endasked", "recalls_ended"])
    def test_is_a_fact(self, recalled: Recall, staff: Person, manager: Person, table: str) -> None:
        recalling.ask_end(recalled, person=staff, reason="clean after all")
        recalling.agree_end(recalled, person=manager, seen=None)
        assert Recall.objects.count() == EndAsked.objects.count() == Ended.objects.count() == 1
        for act in (f"DELETE FROM {table}", f"UPDATE {table} SET id = id + 1"):
            with pytest.raises(DatabaseError), transaction.atomic(), connection.cursor() as cursor:
                cursor.execute(act)


class TestWhatItTouched:
    def test_agrees_with_the_trace_and_the_books(self, recalled: Recall) -> None:
        found = found_by(follow_trace(refer("M001")))
        touched = touched_by("M001")
        assert {one.account.pk for one in found.in_places} | {one.account.pk for one in found.in_stock} == set(
            touched.accounts
        )
        for one in found.in_places:
            [held] = holdings(Account.objects.filter(pk=one.account.pk))
            assert (held.pure_ul, held.litres20) == (one.holds_ul, one.litres20)
            assert one.of_it_ul == pytest.approx(one.holds_ul * one.share, abs=1)
            assert LEAST_TOUCHED <= one.share <= 1
        # RM0001 to RM0003 took 360, 240 and 420 bottles (the sample month's own log), all of the touched stock.
        assert [(one.record.number, one.bottles) for one in found.left] == [
            ("RM0001", 360),
            ("RM0002", 240),
            ("RM0003", 420),
        ]
        assert found.bottles_left == 1020
        assert [one.record.number for one in found.bottled] == ["BO0001"]

    def test_a_bottling_recalled_is_its_own_bottling_wholly(self, loaded_month: None) -> None:
        [bottled] = found_by(follow_trace(refer("L27066"))).bottled
        assert (bottled.record.number, bottled.share, bottled.bottles) == ("BO0001", 1.0, 1200)

    def test_a_cask_recalled_is_wholly_of_it(self, loaded_month: None, staff: Person) -> None:
        recalling.recall("2027/1", person=staff, reason="a stave was mended with glue")
        cask = Account.objects.get(vessel__code="2027/0001")
        [(_, part)] = recalls_of_account(cask)
        assert part == 1.0
        [place] = found_by(follow_trace(refer("2027/0001"))).in_places
        assert (place.code, place.of_it_ul, place.share) == ("2027/0001", place.holds_ul, 1.0)

    def test_records_before_it_are_not_touched(self, recalled: Recall) -> None:
        mash = Record.objects.get(number="MA0001")
        [(one, part)] = recalls_of_record(mash.pk)
        assert (one, part) == (recalled, 1.0)
        assert recalls_of_record(Record.objects.get(number="OV0001").pk) == []


class TestARemoval:
    def test_of_what_is_touched_asks_first(self, recalled: Recall, staff: Person) -> None:
        with pytest.raises(Asked, match=r"M001 is recalled, and 8\.\d+ % of what gin, 70 cl at 41\.4 % holds") as asked:
            recording.save("removal", None, REMOVAL, person=staff)
        keys = [one.key for one in asked.value.questions]
        record = recording.save("removal", None, REMOVAL, person=staff, sure=keys)
        remarks = json.loads(record.versions.get().notes)
        assert any("M001 was recalled" in str(one) for one in remarks)
        # What stands is not asked about again; another number of bottles is.
        recording.correct(record, {"document": "HM-0043"}, person=staff, reason="misread", sure=())
        with pytest.raises(Asked, match="M001 is recalled"):
            recording.correct(record, {"bottles": "18"}, person=staff, reason="counted again")

    def test_of_what_is_not_touched_does_not_ask(self, loaded_month: None, staff: Person, manager: Person) -> None:
        one = recalling.recall("M001", person=staff, reason=REASON)
        recalling.ask_end(one, person=staff, reason="clean after all")
        recalling.agree_end(one, person=manager, seen=None)
        with pytest.raises(Asked) as asked:
            recording.save("removal", None, REMOVAL | {"at": "2031-01-01T10:00"}, person=staff)
        assert "recalled" not in str(asked.value)


class TestPages:
    def test_everything_touched_bears_a_line(self, recalled: Recall, staff: Person, browser_of: BrowserOf) -> None:
        here = browser_of(staff)
        for page in (
            reverse("record", args=["mash", "MA0001"]),
            reverse("record", args=["bottling", "BO0001"]),
            reverse("cask", args=["2027/0001"]),
            reverse("lot", args=["malt", "M001"]),
            reverse("bottling"),
            reverse("vessel_account", kwargs={"code": stock().code}),
        ):
            said = here.get(page).content.decode()
            assert REASON in said, page
            assert staff.shown_name in said
        assert REASON not in here.get(reverse("record", args=["opening_stock", "OV0001"])).content.decode()

    def test_recalling_and_ending_on_the_page(
        self, loaded_month: None, staff: Person, manager: Person, officer: Person, browser_of: BrowserOf
    ) -> None:
        one, other, reads = browser_of(staff), browser_of(manager), browser_of(officer)
        page = f"{reverse('recall')}?ref=M001"
        assert "Recall it" not in reads.get(page).content.decode()
        assert reads.post(f"{reverse('recall_new')}?ref=M001", {"reason": "x"}).status_code == 403
        assert one.post(f"{reverse('recall_new')}?ref=M001", {"reason": REASON}).status_code == 302
        [recall] = recalling.standing()
        assert one.post(reverse("recall_end", args=[recall.pk]), {"reason": "clean after all"}).status_code == 302
        assert "somebody else has to agree" in one.get(page).content.decode()
        said = other.get(page)
        assert "Agree to its end" in said.content.decode()
        seen = said.context["seen"].digest
        other.post(reverse("recall_agree", args=[recall.pk]), {"seen": seen})
        assert not recalling.standing().exists()
        assert Ended.objects.get().digest == seen
        assert "clean after all" in reads.get(reverse("recalls")).content.decode()

    def test_files_and_paper_say_the_same(self, recalled: Recall, officer: Person, browser_of: BrowserOf) -> None:
        reads = browser_of(officer)
        answer = reads.get(f"{reverse('recall')}?ref=M001&left-as=csv")
        lines = b"".join(answer.streaming_content) if answer.streaming else answer.content
        assert b"RM0001" in lines
        paper = reads.get(f"{reverse('recall_pdf')}?ref=M001").content
        words = "\n".join(page.extract_text() for page in PdfReader(BytesIO(paper)).pages)
        assert "As the books stood at" in words
        assert REASON in words
        assert "RM0001" in words
        assert reads.get(f"{reverse('recall')}?ref=Q999").status_code == 404
