"""Who agrees to an ending, or ties two enquiries, signs what was on the page; what changes afterwards is answered anew.

The plain run of the enquiries' own tests: 1,000 litres of pure alcohol go in, 950 come out, 2 are booked as lees.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client

from distillery import signed
from distillery.people.models import Person
from ledger.comparing.findings.finding import ENQUIRY, Finding
from ledger.comparing.findings.likely import CauseLine, Likely
from ledger.enquiries import following, raising
from ledger.enquiries.answering import Proposal, agree, agreeing, propose, send_back, tie
from ledger.enquiries.following import undecided_before
from ledger.enquiries.models import Ending, Enquiry, What
from ledger.enquiries.opening import Unanswerable, open_about
from ledger.enquiries.raising import Undecided, bring_up_to_date
from ledger.enquiries.seen import ending_as_seen, tie_as_seen
from ledger.enquiries.standing import State, history, standing_of, unanswered
from ledger.kept.compared_month import ComparedMonth
from ledger.kept.keeping import Kept
from ledger.kept.made_from import MadeFrom
from ledger.models import Movement
from ledger.posting import post as posting
from tests.signing import seen_on

from .enquired_run import PERIOD, about, run, spillage
from .plant import Emptied, Moved, at, difference, draft, found, left, loss, quantity, vessel, vessel_account

pytestmark = pytest.mark.django_db

BrowserOf = Callable[[Person], Client]
NOT_FOUND = Proposal(Ending.NOT_FOUND, checked="All gauges.", reason="Nothing found.")
RIGHT = Proposal(Ending.RIGHT, checked="The log.", reason="Nothing is missing.")


@pytest.fixture(autouse=True)
def _nothing_to_compare(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(agreeing, "note_uncompared", lambda records: None)


@pytest.fixture
def enquiry(staff: Person) -> Enquiry:
    run(staff)
    return open_about(about())


def set_findings(monkeypatch: pytest.MonkeyPatch, found: Callable[[str], list[Finding]]) -> None:
    """What the figures of a period show, whoever asks."""

    def newest(period: str) -> Kept:
        made = MadeFrom(0, "", 0, "", at(0), at(1), "")
        return Kept(period, ComparedMonth(tuple(found(period)), (), {}), made, at(1))

    monkeypatch.setattr(raising, "findings", found)
    monkeypatch.setattr(following, "newest", newest)
    monkeypatch.setattr(following, "holds", lambda kept: True)


def right_the_run(person: Person, gives: float) -> None:
    """The run's receiver is read anew: so much pure alcohol came out."""
    movement = Movement.objects.filter(record_number="SR0001", operation="spirit run").latest("pk")
    account = vessel_account(vessel("SS"))
    vat, receiver = vessel("V-SR0001"), vessel("R-SR0001")
    again = draft(
        "spirit run",
        "SR0001",
        0,
        found(vat, 1000),
        left(vat, 0, account),
        found(receiver, 0),
        left(receiver, gives, account),
        Moved(account, loss("spent lees"), quantity(2)),
        Emptied(account, difference("spirit run")),
    )
    posting.correct([movement], [again], person=person, reason="Read again.")


def finding(*causes: Likely) -> Finding:
    return Finding(
        ENQUIRY,
        "SR0001",
        "spirit run",
        "spirit run",
        at(0),
        48_000_000,
        2e6,
        26_000_000,
        1_000_000_000,
        "",
        key=about().key,
        lines=(CauseLine(causes, 50.0, ""),) if causes else (),
    )


LOST = Likely("alcohol lost, 48.00 LPA, in spirit run", "SR0001", "", "", "", 0.0, is_loss=True)
MISREAD = Likely("spirit dip written 48 mm short", "SR0001", "spirit_after_dip_mm", "950", "998", 0.0)


class TestAnEndingIsAgreedToAsSeen:
    def test_not_when_another_was_proposed_since(self, enquiry: Enquiry, staff: Person, manager: Person) -> None:
        first = propose(enquiry, spillage(), person=staff)
        seen = signed.digest_of(ending_as_seen(enquiry, first))
        send_back(enquiry, person=staff, reason="Not so.")
        propose(enquiry, NOT_FOUND, person=staff)
        with pytest.raises(signed.MovedOn) as moved:
            agree(enquiry, second=manager, seen=seen)
        assert moved.value.now["How it ends"] == "Cause not found"
        assert standing_of(enquiry).state == State.WAITING

    def test_not_when_the_difference_has_changed_since(self, enquiry: Enquiry, staff: Person, manager: Person) -> None:
        proposed = propose(enquiry, NOT_FOUND, person=staff)
        seen = signed.digest_of(ending_as_seen(enquiry, proposed))
        right_the_run(staff, 300)
        with pytest.raises(signed.MovedOn) as moved:
            agree(enquiry, second=manager, seen=seen)
        assert moved.value.now["Difference open here"] == "698.0000 LPA missing"
        agree(enquiry, second=manager, seen=signed.digest_of(ending_as_seen(enquiry, proposed)))
        assert standing_of(enquiry).state == State.ANSWERED

    def test_the_page_shows_both(self, enquiry: Enquiry, staff: Person, manager: Person, browser_of: BrowserOf) -> None:
        propose(enquiry, spillage(), person=staff)
        browser, address = browser_of(manager), f"/books/enquiries/{enquiry.number}/agree/"
        opened = seen_on(browser.get(address))
        send_back(enquiry, person=staff, reason="Not so.")
        propose(enquiry, NOT_FOUND, person=staff)
        page = browser.post(address, opened).content.decode()
        assert "Something has changed since this page was made, so nothing was signed" in page
        assert "A known loss" in page
        assert "The seal of the transfer pump failed." in page
        assert "Cause not found" in page
        assert standing_of(enquiry).state == State.WAITING
        assert standing_of(enquiry).decided == history(enquiry)[-1]
        browser.post(address)
        assert standing_of(enquiry).state == State.WAITING, "a page that does not say what was on it"
        browser.post(address, seen_on(browser.get(address)))
        assert standing_of(enquiry).state == State.ANSWERED

    def test_a_tie_is_of_the_two_that_were_on_the_page(
        self, enquiry: Enquiry, staff: Person, browser_of: BrowserOf
    ) -> None:
        run(staff, "SR0002", gives=1010)
        other = open_about(about("SR0002", -12_000_000))
        seen = signed.digest_of(tie_as_seen(enquiry))
        right_the_run(staff, 300)
        with pytest.raises(signed.MovedOn) as moved:
            tie(enquiry, other, person=staff, reason="One hose.", seen=seen)
        assert "698.0000 LPA missing, open" in moved.value.now[enquiry.number]
        assert history(enquiry) == []
        tie(enquiry, other, person=staff, reason="One hose.", seen=signed.digest_of(tie_as_seen(enquiry)))
        assert [event.what for event in history(other)] == [What.TIED]


class TestWhatChangesAfterTheSecondSignature:
    def test_is_opened_again(
        self, enquiry: Enquiry, staff: Person, manager: Person, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        propose(enquiry, RIGHT, person=staff)
        agree(enquiry, second=manager)
        set_findings(monkeypatch, lambda period: [finding()])
        bring_up_to_date(PERIOD)
        assert standing_of(enquiry).state == State.ANSWERED, "nothing has changed"
        right_the_run(staff, 300)
        bring_up_to_date(PERIOD, corrected="SR0001")
        assert standing_of(enquiry).state == State.OPEN
        said = "the difference was 48.00 LPA missing when two people agreed and is 698.00 LPA missing now"
        assert said in history(enquiry)[-1].text
        assert unanswered(PERIOD) == [enquiry]


class TestALossOrASlip:
    """Where a loss explains the figures as well as a wrong reading, one person does not end it by a correction."""

    @pytest.fixture
    def corrected(self, enquiry: Enquiry, staff: Person, monkeypatch: pytest.MonkeyPatch) -> Enquiry:
        set_findings(monkeypatch, lambda period: [finding(LOST, MISREAD)])
        undecided = undecided_before([PERIOD], by=staff)
        assert undecided.keys == {enquiry.key}
        right_the_run(staff, 998)
        set_findings(monkeypatch, lambda period: [])
        bring_up_to_date(PERIOD, corrected="SR0001", undecided=undecided)
        return enquiry

    def test_the_correction_waits_for_a_second_person(self, corrected: Enquiry, staff: Person, manager: Person) -> None:
        standing = standing_of(corrected)
        assert standing.state == State.WAITING
        assert standing.decided is not None
        assert (standing.decided.person, standing.decided.ending) == (staff, Ending.CORRECTED)
        assert unanswered(PERIOD) == [corrected], "it stands in the way of closing"
        with pytest.raises(Unanswerable, match="someone else has to agree"):
            agree(corrected, second=staff)
        agree(corrected, second=manager)
        assert standing_of(corrected).state == State.PUT_RIGHT
        assert [event.person for event in history(corrected)] == [staff, manager, None]

    def test_the_program_does_not_end_it_meanwhile(self, corrected: Enquiry, staff: Person, manager: Person) -> None:
        bring_up_to_date(PERIOD)
        assert standing_of(corrected).state == State.WAITING
        send_back(corrected, person=manager, reason="The floor was wet.")
        bring_up_to_date(PERIOD)
        assert standing_of(corrected).state == State.OPEN
        with pytest.raises(Unanswerable, match="Correct the reading on its record"):
            propose(corrected, Proposal(Ending.CORRECTED, checked="All.", reason="So."), person=staff)
        propose(corrected, NOT_FOUND, person=staff)
        agree(corrected, second=manager)
        bring_up_to_date(PERIOD)
        assert standing_of(corrected).state == State.ANSWERED

    def test_found_again_it_is_open(self, corrected: Enquiry, monkeypatch: pytest.MonkeyPatch) -> None:
        set_findings(monkeypatch, lambda period: [finding(LOST, MISREAD)])
        bring_up_to_date(PERIOD, corrected="SR0001")
        assert standing_of(corrected).state == State.OPEN
        assert history(corrected)[-1].what == What.FOUND_AGAIN

    def test_the_pages_say_what_waits(self, corrected: Enquiry, manager: Person, browser_of: BrowserOf) -> None:
        browser = browser_of(manager)
        page = browser.get(f"/books/enquiries/{corrected.number}/agree/").content.decode()
        assert "A reading was wrong and has been put right by a correction" in page
        assert "A loss would have explained them as well as the reading that was changed" in page
        listed = browser.get(f"/books/enquiries/{corrected.number}/propose/").content.decode()
        assert 'value="corrected"' not in listed

    @pytest.mark.parametrize("causes", [(MISREAD,), ()])
    def test_what_only_a_reading_explains_ends_by_itself(
        self, enquiry: Enquiry, staff: Person, monkeypatch: pytest.MonkeyPatch, causes: tuple[Likely, ...]
    ) -> None:
        set_findings(monkeypatch, lambda period: [finding(*causes)])
        undecided = undecided_before([PERIOD], by=staff)
        assert undecided == Undecided(staff, frozenset())
        right_the_run(staff, 998)
        set_findings(monkeypatch, lambda period: [])
        bring_up_to_date(PERIOD, corrected="SR0001", undecided=undecided)
        assert standing_of(enquiry).state == State.PUT_RIGHT

    def test_figures_that_cannot_be_compared_leave_it_undecided(
        self, enquiry: Enquiry, staff: Person, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        def broken(period: str) -> list[Finding]:
            raise ZeroDivisionError

        set_findings(monkeypatch, broken)
        assert undecided_before([PERIOD], by=staff).keys == {enquiry.key}
