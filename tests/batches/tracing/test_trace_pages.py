"""The page of a trace: drawn, listed, as data and on paper; over the sample month."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from io import BytesIO, StringIO
from xml.etree import ElementTree as ET

import pytest
from django.core.management import call_command
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from batches.models import Link, Record
from batches.pages.tracing.drawn import MOST, flow_of
from batches.records import recording
from batches.tracing.links import contents_of
from batches.tracing.trace import NoSuchReference, follow_trace, refer
from distillery.people.models import Person
from ledger.models import Account, AccountKind, Leg

BrowserOf = Callable[[Person], Client]
SVG = "{http://www.w3.org/2000/svg}"


def drawn(ref: str, *opened: str) -> ET.Element:
    return ET.fromstring(str(flow_of(follow_trace(refer(ref)), opened, "?ref=x")))


def said(root: ET.Element, kind: str) -> list[str]:
    return [one.text or "" for one in root.iter(f"{SVG}text") if kind in one.attrib["class"].split()]


class TestTheDrawing:
    def test_goes_from_malt_to_removals(self, loaded_month: None) -> None:
        # The order of the process, as the trade has it.
        wanted = ["Malt lot", "Mash", "Fermentation", "Wash run", "Spirit run", "Third still run", "Bottling"]
        heads = said(drawn("BO0001"), "flow-head")
        assert [one for one in heads if one in wanted] == wanted
        assert heads[0] == "Not known"
        assert heads.index("Bottling") < heads.index("Bottled stock") < heads.index("Removal")

    def test_every_place_is_a_link_that_can_be_read_out(self, loaded_month: None) -> None:
        root = drawn("M001")
        places = list(root.iter(f"{SVG}a"))
        assert len(places) == len(said(root, "flow-name"))
        for place in places:
            assert place.attrib["href"]
            assert place.attrib["aria-label"].strip(", ")

    def test_a_crowded_column_is_folded_and_opens(self, loaded_month: None) -> None:
        folded = drawn("M001")
        columns = [one for one in said(folded, "flow-name") if re.fullmatch(r"\d+ more", one)]
        assert columns
        casks = [one for one in said(folded, "flow-name") if one.startswith("2027/")]
        assert len(casks) == MOST - 1
        opened = drawn("M001", "ahead-cask")
        assert len([one for one in said(opened, "flow-name") if one.startswith("2027/")]) > MOST


class TestThePage:
    @pytest.mark.parametrize("ref", ["M001", "BO0001", "SV", "2027/0001", "L27066", "gin/70/41.4", "SR0003"])
    def test_of_whatever_has_a_number(
        self, ref: str, loaded_month: None, officer: Person, browser_of: BrowserOf
    ) -> None:
        answer = browser_of(officer).get(reverse("trace"), {"ref": ref})
        page = answer.content.decode()
        assert answer.status_code == 200
        assert 'class="chart flow"' in page
        assert "Came from" in page
        assert "Went into" in page

    def test_without_a_number_it_asks_for_one(self, loaded_month: None, officer: Person, browser_of: BrowserOf) -> None:
        here = browser_of(officer)
        assert here.get(reverse("trace")).status_code == 200
        strange = here.get(reverse("trace"), {"ref": "Q999"})
        assert strange.status_code == 404
        assert "no record, lot, vessel or cask Q999" in strange.content.decode()
        assert here.get(reverse("trace_json")).status_code == 302

    def test_data_of_page_and_command_are_one(self, loaded_month: None, officer: Person, browser_of: BrowserOf) -> None:
        printed = StringIO()
        call_command("trace", "BO0001", "--json", stdout=printed)
        page = browser_of(officer).get(reverse("trace_json"), {"ref": "BO0001"})
        assert json.loads(printed.getvalue()) == page.json()
        for one in (*page.json()["back"], *page.json()["forward"]):
            assert {"record", "kind", "lpa", "share"} <= set(one)

    def test_paper_has_drawing_and_lists(self, loaded_month: None, officer: Person, browser_of: BrowserOf) -> None:
        paper = browser_of(officer).get(reverse("trace_pdf"), {"ref": "BO0001"}).content
        words = "\n".join(page.extract_text() for page in PdfReader(BytesIO(paper)).pages)
        for said_there in ("As the books stood at", "What lies behind it", "Came from", "M001", "RM0001", "Not known"):
            assert said_there in words
        assert "Page 1 of" in words or "1 of" in words

    def test_records_casks_and_vessels_lead_to_it(
        self, loaded_month: None, officer: Person, browser_of: BrowserOf
    ) -> None:
        here = browser_of(officer)
        for page, ref in (
            (reverse("record", args=["mash", "MA0001"]), "MA0001"),
            (reverse("cask", args=["2027/0001"]), "2027%2F0001"),
            (reverse("vessel_account", kwargs={"code": "SV"}), "SV"),
            (reverse("lot", args=["malt", "M001"]), "M001"),
        ):
            assert f"{reverse('trace')}?ref={ref}" in here.get(page).content.decode(), page


class TestWhatANumberMeans:
    def test_a_number_without_its_noughts(self, loaded_month: None) -> None:
        assert (refer("sr7").ref, refer("2027/1").ref, refer("m1").ref) == ("SR0007", "2027/0001", "M001")

    def test_a_document_and_a_consignee(self, loaded_month: None, staff: Person) -> None:
        removal = recording.save(
            "removal",
            None,
            {
                "at": "2027-03-30T10:00",
                "product": "gin",
                "bottle_centilitres": "70",
                "label_percent": "41.4",
                "bottles": "6",
                "kind": "export",
                "consignee": "Ferrow Stores, 2 Quay Street, Harrowmere",
                "document": "HM-0042",
            },
            person=staff,
            sure=True,
        )
        assert refer("hm-0042").records == (removal.pk,)
        assert (refer("ferrow stores").records, refer("ferrow stores").what) == ((removal.pk,), "consignee")
        assert {one.record for one in follow_trace(refer("Ferrow Stores")).back} >= {"BO0001", "M001"}
        with pytest.raises(NoSuchReference):
            refer("Quay Street")


class TestSharesAndTheLedger:
    """Item by item: what the links say left a place is what the ledger says, to the microlitre."""

    def test_bottlings_and_fills_took_what_the_ledger_says(self, loaded_month: None) -> None:
        seen = 0
        for record in Record.objects.filter(kind__in=("bottling", "cask_fill", "removal", "spirit_run")):
            taken = Link.objects.filter(taker=record, account__isnull=False)
            for account in set(taken.values_list("account_id", flat=True)):
                legs = Leg.objects.standing().filter(
                    account=account, movement__record_number=record.number, movement__record_kind=record.kind
                )
                flows = legs.exclude(entry="gauging").values_list("movement_id", "pure_ul")
                by_movement: dict[int, int] = {}
                for movement, pure in flows:
                    by_movement[movement] = by_movement.get(movement, 0) + pure
                out = -sum(pure for pure in by_movement.values() if pure < 0)
                assert sum(taken.filter(account=account).values_list("pure_ul", flat=True)) == out, record
                seen += 1
        assert seen > 20

    def test_the_mix_of_every_place_is_its_book(self, loaded_month: None) -> None:
        seen = 0
        for account in Account.objects.filter(kind__in=(AccountKind.VESSEL, AccountKind.STOCK)).select_related(
            "balance", "vessel"
        ):
            if account.vessel is not None and account.vessel.kind == "still":
                continue
            book = account.balance.balance_ul if hasattr(account, "balance") else 0
            assert sum(contents_of(account.pk).values()) == max(book, 0), account
            seen += 1
        assert seen > 50

    def test_origins_and_what_is_not_known_are_all_of_it(self, loaded_month: None) -> None:
        for ref in ("BO0001", "2027/0001", "2027/0040", "SV", "SR0010", "RM0002"):
            trace = follow_trace(refer(ref))
            left = {pk: share for pk, share in trace.behind.left.items() if share > 1e-12}
            assert sum(left.values()) == pytest.approx(1.0, abs=1e-9), ref
            unknown = {one.record_id for one in trace.not_known}
            origins = Record.objects.filter(pk__in=left.keys() - unknown).values_list("kind", flat=True)
            assert set(origins) <= {"intake", "receipt_under_bond", "fermentation"}, ref
            assert all("opened" in one.why for one in trace.not_known), ref

    def test_a_corrected_record_keeps_its_trace_right(self, loaded_month: None, staff: Person) -> None:
        before = {one.record: one.pure_ul for one in follow_trace(refer("M002")).forward if one.kind == "mash"}
        recording.correct(
            Record.objects.get(number="MA0001"), {"malt_lot": "M002"}, person=staff, reason="lot misread", sure=True
        )
        after = {one.record: one.pure_ul for one in follow_trace(refer("M002")).forward if one.kind == "mash"}
        assert after.keys() == {*before, "MA0001"}
        assert "MA0001" not in {one.record for one in follow_trace(refer("M001")).forward}
