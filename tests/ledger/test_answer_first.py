"""An enquiry opens with the likeliest answer, its button, and how well that fits; it ends on its own page.

The sentences are of the sample month: the receiver's dip 827 was written for 927, the hydrometer 27.8 for 24.8, and a
cask leaked.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime

import pytest
from django.test import Client

from distillery.people.models import Person
from ledger.comparing.findings.finding import ENQUIRY, BesideUsual, Finding
from ledger.comparing.findings.likely import CauseLine, ComesTo, Likely, Neighbour
from ledger.comparing.unaccounted import found_by_record
from ledger.enquiries.answering import Proposal, in_place
from ledger.enquiries.balance import open_of
from ledger.enquiries.likeliest.answer import NOTHING_FITS, answer_of, what_of
from ledger.enquiries.likeliest.one_event import may_be_one_event
from ledger.enquiries.models import Ending, Enquiry, EnquiryEvent, What
from ledger.enquiries.opening import About, Unanswerable, open_about
from ledger.enquiries.standing import State, history, standing_of
from ledger.models import Movement, MovementKind
from tests.conftest import PASSWORD
from tests.signing import seen_on

PERIOD = "2027-03"
Browser = Callable[[Person], Client]

DIP = Likely(
    cause="spirit receiver after: dip written 100 mm short",
    record="SR0007",
    field="spirit_after_dip_mm",
    written="827",
    would_be="927",
    leaves_lpa=3.44,
    record_kind="spirit_run",
    vessel="SR",
    reading="dip",
    comes_to=ComesTo(2243.5, 1580.6, 70.45, 2.2),
    neighbour=Neighbour("TR0005", "transfer", -2.5, -193.5, agrees=True),
)
LOST = Likely("alcohol lost, 194.00 LPA, in spirit run SR0007", "SR0007", "", "", "", 0.0, "spirit_run", is_loss=True)
UNWRITTEN = Likely("transfer from SR to SV not written down, 190.0 LPA", "TR0005", "", "", "", -1.2, "transfer", "SR")


def finding_of(*lines: CauseLine, others: float | None = None) -> Finding:
    return Finding(
        kind=ENQUIRY,
        record="SR0007",
        record_kind="spirit_run",
        operation="spirit run",
        at=datetime(2027, 3, 13, 2, 21, tzinfo=UTC),
        difference_ul=194_430_000,
        uncertainty_ul=4_150_000,
        threshold_ul=32_050_000,
        in_ul=1_232_510_000,
        basis="",
        lines=lines,
        others_statistic=others,
    )


class TestWords:
    def test_a_reading_with_what_it_leaves_and_what_the_next_gauge_says(self) -> None:
        answer = answer_of(finding_of(CauseLine((DIP,), 7882.0, ""), others=6329.0), 194_430_000)
        assert answer.sentence == (
            "Spirit receiver after: the dip was written 827; read as 927 it leaves 3.44 LPA missing, and the next "
            "gauge, of TR0005, agrees."
        )
        assert [one.text for one in answer.said if one.strong] == ["827", "927", "3.44 LPA missing"]
        assert answer.fit == "Fits far better than anything else."
        assert answer.reading == DIP

    def test_a_next_gauge_that_does_not_agree_is_said(self) -> None:
        apart = replace(DIP, neighbour=Neighbour("TR0005", "transfer", 40.2, -193.5, agrees=False))
        answer = answer_of(finding_of(CauseLine((apart,), 30.0, "")), 194_430_000)
        assert "but by the next gauge, of TR0005, 40.20 LPA missing would still stand." in answer.sentence
        assert answer.fit == "Nothing else that was tried explains it."

    def test_a_loss_that_fits_as_well_stands_before_the_reading(self) -> None:
        answer = answer_of(finding_of(CauseLine((LOST, DIP), 100.0, "Dip it again.")), 194_430_000)
        assert answer.sentence == (
            "Either 194.43 LPA was lost in SR0007, or spirit receiver after: the dip in SR0007 was written 827 for "
            "927: the figures cannot tell which."
        )
        assert answer.fit == "Fits as well as another below: the figures cannot tell which."
        assert (answer.is_loss, answer.look_next) == (True, "Dip it again.")

    def test_a_movement_that_nobody_wrote_down(self) -> None:
        answer = answer_of(finding_of(CauseLine((UNWRITTEN,), 60.0, ""), CauseLine((DIP,), 55.0, "")), 194_430_000)
        assert answer.sentence.startswith("Transfer from SR to SV not written down, 190.0 LPA; 1.20 LPA over would be")
        assert answer.fit == "Fits about as well as what stands below: look before you choose."

    def test_what_was_declared_elsewhere_goes_by_the_name_of_its_box(self) -> None:
        sent = Likely(
            "volume written 30 litres too much",
            "RB0002",
            "consignor_litres",
            "998.5",
            "968.5",
            -1.17,
            "receipt_under_bond",
            "source:received under bond",
        )
        assert what_of(sent) == "the figure 'Litres sent'"

    def test_a_figure_unlike_its_kind_says_what_its_kind_has(self) -> None:
        fill = Likely(
            "gross weight unlike its kind", "CF0003", "gross_kg", "24.0", "240.0", 0.0, "cask_fill", "2027/0031"
        )
        finding = replace(
            finding_of(CauseLine((fill,), 40.0, "")), beside_usual=BesideUsual("gross weight", 24.0, 240.0, 3.0, "kg")
        )
        assert answer_of(finding, 0).sentence.endswith("of 2027/0031 was written 24.0; 240.0 would be like its kind.")

    def test_nothing_that_fits(self) -> None:
        answer = answer_of(finding_of(), 194_430_000)
        assert (answer.sentence, answer.fit, answer.reading) == (NOTHING_FITS, "", None)


def about(record: str = "SR0007") -> Enquiry:
    return Enquiry.objects.get(record_number=record, period=PERIOD)


def address(then: str = "", record: str = "SR0007") -> str:
    return f"/books/enquiries/{about(record).number}/{then}"


@pytest.mark.usefixtures("loaded_month")
class TestThePage:
    @pytest.mark.parametrize(
        ("record", "sentence", "button", "fit"),
        [
            (
                "SR0007",
                "Spirit receiver after: the dip was written 827; read as 927 it leaves 3.44 LPA missing, and the next "
                "gauge, of TR0005, agrees.",
                "Correct the dip to 927",
                "Fits far better than anything else.",
            ),
            (
                "WR0012",
                "was written 27.8; read as 24.8 it leaves 11.55 LPA missing, and the next gauge, of SR0012, agrees.",
                "Correct the hydrometer to 24.8",
                "Fits far better than anything else.",
            ),
            (
                "RG0007",
                "Either 10.90 LPA was lost in RG0007, or the gross weight of 2022/0007 in RG0007 was written 193.7 "
                "for 213.7: the figures cannot tell which.",
                "Answer 10.90 LPA as lost",
                "Fits as well as 4 others below: the figures cannot tell which.",
            ),
        ],
    )
    def test_the_answer_stands_first(
        self, browser_of: Browser, manager: Person, record: str, sentence: str, button: str, fit: str
    ) -> None:
        page = browser_of(manager).get(address("", record)).content.decode()
        main = page[page.index("<main") :]
        words = re.sub(r"\s+", " ", re.sub("<[^>]+>", "", main))
        assert sentence in words
        assert words.index(sentence) < words.index(button) < words.index(fit) < words.index("What was measured")

    def test_the_grid_has_the_gauges_and_what_would_be(self, browser_of: Browser, manager: Person) -> None:
        """827 mm is 1,389.58 LPA; 927 mm 1,580.57, beside 1,583.08 at the next gauge (the sample month's tables)."""
        page = browser_of(manager).get(address()).content.decode()
        grid = page[page.index('id="grid-caption"') : page.index("All gauges on both sides")]
        places = [
            grid.index(one) for one in ("494", "827", "1,389.58", "would be", "927", "1,580.57", "929", "1,583.08")
        ]
        assert places == sorted(places)

    def test_a_correction_comes_back_to_the_enquiry_it_ended(self, browser_of: Browser, manager: Person) -> None:
        client = browser_of(manager)
        page = client.get(address()).content.decode()
        link = re.search(r'href="(/records/spirit_run/SR0007/correct/[^"]+)"', page)
        assert link is not None
        to_correct = link[1].replace("&amp;", "&")
        form = client.get(to_correct).content.decode()
        boxes = dict(re.findall(r'<input[^>]*name="([^"]+)"[^>]*value="([^"]*)"', form))
        assert boxes["spirit_after_dip_mm"] == "927"
        done = client.post(to_correct, boxes | {"reason": "Rod read again on the sheet."})
        assert done["Location"] == address()
        assert standing_of(about()).state == State.PUT_RIGHT
        after = client.get(address()).content.decode()
        assert f"Next: {about('WR0012').number}, WR0012" in after

    def test_two_people_end_it_with_one_press(self, browser_of: Browser, staff: Person, manager: Person) -> None:
        loss = {
            "ending": "loss",
            "checked": "Stave seen wet.",
            "reason": "The cask leaked.",
            "cause": "evaporation in cask",
            "happened_at": "2027-03-03T13:32",
            "product": "cask",
            "pure": "10.8964",
            "percent": "61.5",
            "username": staff.username,
        }
        client = browser_of(manager)
        seen = seen_on(client.get(address("", "RG0007")))
        wrong = client.post(address("propose/", "RG0007"), loss | {"password": "wrong"} | seen).content.decode()
        assert "Name and password do not belong together" in wrong
        assert "Stave seen wet." in wrong
        own = loss | {"username": manager.username, "password": PASSWORD}
        refused = client.post(address("propose/", "RG0007"), own | seen).content.decode()
        assert "someone else has to agree to it" in refused
        assert not EnquiryEvent.objects.filter(enquiry=about("RG0007")).exists(), "all of it or nothing"
        before = Enquiry.objects.count()
        done = client.post(address("propose/", "RG0007"), loss | {"password": PASSWORD} | seen, follow=True)
        assert "is answered" in done.content.decode()
        assert standing_of(about("RG0007")).state == State.ANSWERED
        movement = Movement.objects.get(kind=MovementKind.EXPLANATION)
        assert (movement.person, movement.second) == (manager, staff)
        assert Enquiry.objects.count() == before, "an answered fact has no second enquiry"


@pytest.mark.usefixtures("loaded_month")
class TestOneEvent:
    """194.43 LPA missing at the run were found at the next gauge of the receiver, 193.51 over: one event."""

    def _found_there(self) -> Enquiry:
        gauge = next(one for one in found_by_record("TR0005") if one.vessel == "SR" and one.found_ul > 0)
        return open_about(
            About(
                key=gauge.key,
                kind="continuity",
                record_kind="transfer",
                record_number="TR0005",
                operation="gauging of SR",
                happened_at=gauge.at,
                period=PERIOD,
                said="The gauge found 193.51 LPA over against the book.",
                difference_ul=gauge.difference_ul,
                uncertainty_ul=gauge.uncertainty_ul,
            )
        )

    def test_only_what_balances_at_a_vessel_both_touch_is_pointed_to(self) -> None:
        run = about()
        assert may_be_one_event(run, open_of(run).open_ul) == [], "86.96 over at WR0012 is no part of 194.43"
        there = self._found_there()
        (pair,) = may_be_one_event(run, open_of(run).open_ul)
        assert (pair.other, pair.here_ul, pair.there_ul) == (there, 194_433_303, -193_508_314)
        assert pair.left_ul == 924_989

    def test_both_end_together_and_the_amounts_stay_apart(
        self, browser_of: Browser, staff: Person, manager: Person
    ) -> None:
        run, there = about(), self._found_there()
        client = browser_of(staff)
        page = client.get(f"{address()}?do=end&with={there.number}")
        text = page.content.decode()
        assert "May be one event" in text
        assert "0.92 missing" in text
        answer = {"ending": "set off", "other": there.number, "checked": "Both dips.", "reason": "One dip is in both."}
        signs = {"username": manager.username, "password": PASSWORD} | seen_on(page)
        client.post(address("propose/"), answer | signs)
        assert [standing_of(one).state for one in (run, there)] == [State.ANSWERED, State.ANSWERED]
        assert [one.what for one in history(there)] == [What.TIED, What.AGREED]
        assert (open_of(run).open_ul, open_of(there).open_ul) == (194_433_303, -193_508_314), "never netted in silence"
        assert f"set off against {there.number}" in client.get(address()).content.decode().lower().replace("eq", "EQ")

    def test_what_leaves_more_than_the_threshold_is_no_set_off(self, staff: Person) -> None:
        wash = about("WR0012")
        proposal = Proposal(Ending.SET_OFF, checked="Both.", reason="They look alike.")
        with pytest.raises(Unanswerable, match=r"107\.47 LPA missing is left, beyond the review threshold of 34\.07"):
            in_place.end(about(), proposal, person=staff, other=wash)
        assert not EnquiryEvent.objects.exists()
