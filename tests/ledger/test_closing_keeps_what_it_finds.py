"""What a request to close finds is kept and named, and a name goes under what was on the page and nothing else.

Plain invented books: a vat opened with 100 litres of pure alcohol and drawn from.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime

import pytest
from django.test import Client

from batches.models import Record
from batches.records import recording
from distillery import signed
from distillery.people.models import Person
from ledger.comparing.findings.finding import ENQUIRY, Finding
from ledger.enquiries import raising
from ledger.enquiries.answering import Proposal, agree, propose, reopen
from ledger.enquiries.models import Ending, Enquiry
from ledger.enquiries.opening import open_by_hand
from ledger.enquiries.standing import UNANSWERED, standings
from ledger.models import Movement
from ledger.periods import service
from ledger.periods.models import CloseRequest, Closing
from ledger.periods.readiness import NotReady, not_ready
from ledger.periods.seen import closing_as_seen
from ledger.periods.service import CannotClose, ask
from ledger.posting.post import post
from tests.signing import seen_on

from . import plant

LATER = datetime(2027, 6, 1, tzinfo=UTC)
PERIOD = "2027-03"
PAGE = f"/books/months/{PERIOD}/close/"
BrowserOf = Callable[[Person], Client]


def draw(number: str, lpa: float = 10) -> Movement:
    vat = plant.vessel_account(plant.vessel("VAT"))
    moved = plant.Moved(vat, plant.loss("samples"), plant.quantity(lpa))
    return post(plant.draft("samples", number, 0, moved), person=Person.objects.earliest("pk"))


@pytest.fixture
def drawn(db: None, manager: Person) -> Movement:
    post(plant.opening(plant.vessel("VAT"), 100.0), person=manager)
    return draw("S1")


@pytest.fixture
def finds_one(monkeypatch: pytest.MonkeyPatch, drawn: Movement) -> None:
    """The month's figures show one thing that nobody has been asked about yet."""
    found = Finding(
        ENQUIRY,
        drawn.record_number,
        drawn.record_kind,
        drawn.operation,
        drawn.happened_at,
        9_000_000,
        1e6,
        2_000_000,
        100_000_000,
        "",
        key="operation:S1",
    )
    monkeypatch.setattr(raising, "findings", lambda period: [found])


class TestWhatTheCloseFinds:
    @pytest.mark.usefixtures("finds_one")
    def test_is_kept_when_the_request_is_refused(self, manager: Person) -> None:
        assert not Enquiry.objects.exists()
        with pytest.raises(CannotClose, match="Enquiry EQ0001 about S1 is not answered") as refused:
            ask(PERIOD, person=manager, remark="x", now=LATER)
        assert Enquiry.objects.get().number == "EQ0001"
        assert [way.href for way in refused.value.ways] == ["/books/enquiries/EQ0001/"]
        assert not CloseRequest.objects.exists()

    @pytest.mark.usefixtures("finds_one")
    def test_is_a_link_on_the_page_that_leads_to_it(self, manager: Person, browser_of: BrowserOf) -> None:
        browser = browser_of(manager)
        page = browser.post(PAGE, {"remark": "x"} | seen_on(browser.get(PAGE))).content.decode()
        assert "Enquiry EQ0001 about S1 is not answered." in page
        assert 'href="/books/enquiries/EQ0001/"' in page
        assert browser.get("/books/enquiries/EQ0001/").status_code == 200

    @pytest.mark.usefixtures("finds_one")
    def test_once_answered_the_month_closes(self, manager: Person, staff: Person) -> None:
        with pytest.raises(CannotClose):
            ask(PERIOD, person=manager, remark="x", now=LATER)
        enquiry = Enquiry.objects.get()
        propose(enquiry, Proposal(Ending.NOT_FOUND, checked="All.", reason="Nothing."), person=staff)
        agree(enquiry, second=manager)
        service.agree(ask(PERIOD, person=manager, remark="x", now=LATER), person=staff, now=LATER)
        assert Closing.objects.exists()

    def test_what_is_found_at_the_second_signature_is_kept_too(
        self, drawn: Movement, manager: Person, staff: Person, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        request = ask(PERIOD, person=manager, remark="x", now=LATER)
        found = Finding(
            ENQUIRY,
            "S1",
            drawn.record_kind,
            drawn.operation,
            drawn.happened_at,
            9_000_000,
            1e6,
            2_000_000,
            100_000_000,
            "",
            key="operation:S1",
        )
        monkeypatch.setattr(raising, "findings", lambda period: [found])
        with pytest.raises(CannotClose, match="Enquiry EQ0001 about S1 is not answered"):
            service.agree(request, person=staff, now=LATER)
        assert Enquiry.objects.exists()

    def test_figures_that_cannot_be_compared_close_nothing_and_are_said(
        self, drawn: Movement, manager: Person, staff: Person, monkeypatch: pytest.MonkeyPatch, browser_of: BrowserOf
    ) -> None:
        request = ask(PERIOD, person=manager, remark="x", now=LATER)

        def broken(period: str) -> None:
            raise ZeroDivisionError

        monkeypatch.setattr(raising, "findings", broken)
        said = r"figures of March 2027 could not be compared \(ZeroDivisionError\), so a finding may be missing"
        with pytest.raises(CannotClose, match=said) as refused:
            service.agree(request, person=staff, now=LATER)
        assert [way.href for way in refused.value.ways] == [f"/books/months/{PERIOD}/"]
        with pytest.raises(CannotClose, match=said):
            ask(PERIOD, person=manager, remark="x", now=LATER)
        browser = browser_of(staff)
        page = browser.post(PAGE, {"request": request.pk} | seen_on(browser.get(PAGE))).content.decode()
        assert "could not be compared" in page
        assert not Closing.objects.exists()


class TestWhatIsSigned:
    def test_a_request_is_for_the_books_on_the_page(
        self, drawn: Movement, manager: Person, browser_of: BrowserOf
    ) -> None:
        browser = browser_of(manager)
        seen = seen_on(browser.get(PAGE))
        draw("S2")
        page = browser.post(PAGE, {"remark": "x"} | seen).content.decode()
        assert not CloseRequest.objects.exists()
        assert "Something has changed since this page was made, so nothing was signed" in page
        assert "As it was on your page" in page
        assert "movement 2, seal" in page
        assert "movement 3, seal" in page
        browser.post(PAGE, {"remark": "x"} | seen_on(browser.get(PAGE)))
        assert CloseRequest.objects.get().last_number == 3

    def test_an_enquiry_answered_otherwise_since_is_not_agreed_to_unseen(
        self, drawn: Movement, manager: Person, staff: Person
    ) -> None:
        """Nothing is written into the books by such an answer, so counting entries would not tell."""
        enquiry = open_by_hand(drawn.record_kind, "S1", person=manager, why="Was it drawn?")
        right = Proposal(Ending.RIGHT, checked="The log.", reason="It was.")
        propose(enquiry, right, person=staff)
        agree(enquiry, second=manager)
        request = ask(PERIOD, person=manager, remark="x", now=LATER)
        seen = signed.digest_of(closing_as_seen(PERIOD, now=LATER))
        reopen(enquiry, person=manager, reason="It was not.")
        propose(enquiry, Proposal(Ending.NOT_FOUND, checked="All.", reason="Gone."), person=staff)
        agree(enquiry, second=manager)
        with pytest.raises(signed.MovedOn) as moved:
            service.agree(request, person=staff, now=LATER, seen=seen)
        assert "cause not found" in moved.value.now["EQ0001"]
        assert not Closing.objects.exists()
        again = signed.digest_of(closing_as_seen(PERIOD, now=LATER))
        service.agree(request, person=staff, now=LATER, seen=again)
        assert Closing.objects.exists()

    def test_the_clock_alone_changes_nothing_of_it(self, drawn: Movement) -> None:
        before, after = datetime(2027, 1, 1, tzinfo=UTC), LATER
        assert not_ready(PERIOD, now=before) != not_ready(PERIOD, now=after)
        assert closing_as_seen(PERIOD, now=before) == closing_as_seen(PERIOD, now=after)


@pytest.mark.usefixtures("loaded_month")
class TestTheMonth:
    def test_two_corrections_of_one_run_do_not_end_in_a_month_that_cannot_be_closed(
        self, manager: Person, staff: Person
    ) -> None:
        """Spirit after at 68.5 %, then its temperature at 18.1: only the whole month shows what else is odd."""
        run = Record.objects.get(number="SR0015")
        for values in ({"spirit_after_hydrometer_percent": "68.5"}, {"spirit_after_celsius": "18.1"}):
            recording.correct(run, values, person=manager, reason="Read again.")

        def refusal() -> tuple[NotReady, ...]:
            try:
                ask(PERIOD, person=manager, remark="Said.", now=LATER)
            except CannotClose as refused:
                return refused.ways
            return ()

        for _ in range(20):
            waiting = [one for one in standings(Enquiry.objects.all()) if one.state in UNANSWERED]
            for one in waiting:
                propose(one.enquiry, Proposal(Ending.NOT_FOUND, checked="All.", reason="None."), person=staff)
                agree(one.enquiry, second=manager)
            in_the_way = refusal()
            if not in_the_way:
                break
            assert all(way.href for way in in_the_way)
            named = {way.href.rstrip("/").rpartition("/")[2] for way in in_the_way}
            assert named <= set(Enquiry.objects.values_list("number", flat=True)), "it names what is not there"
        service.agree(CloseRequest.objects.get(), person=staff, now=LATER)
        assert Closing.objects.get().period == PERIOD
