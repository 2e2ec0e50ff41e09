"""Pages of a closing: who sees what, who may do what, and what account and movement say of it. Invented figures."""

from __future__ import annotations

import io
import json
from collections.abc import Callable
from datetime import UTC, date, datetime

import pytest
from django.core.management import call_command
from django.test import Client
from pypdf import PdfReader

from distillery.people.models import Person
from distillery.printing.furniture import grouped
from distillery.rules.setting.entering import Unsettable, closed_to
from distillery.rules.setting.figures import add_loss_cause
from ledger.models import Movement
from ledger.periods.models import CloseRequest, Closing
from ledger.periods.service import agree, ask
from ledger.posting.drafts import Draft
from ledger.posting.post import correct, post
from tests.signing import seen_on

from . import plant

pytestmark = pytest.mark.django_db

LATER = datetime(2027, 6, 1, tzinfo=UTC)
PAGE = "/books/months/2027-03/close/"
BrowserOf = Callable[[Person], Client]


@pytest.fixture
def drawn(manager: Person) -> Movement:
    """A vat opened with 100 LPA and 40 drawn off as samples on 12 March 2027, which is ahead of this computer."""
    vat = plant.vessel("VAT")
    post(plant.opening(vat, 100.0), person=manager)
    return post(draw(40), person=manager)


def draw(lpa: float) -> Draft:
    vat = plant.vessel_account(plant.vessel("VAT"))
    return plant.draft("samples", "S1", 0, plant.Moved(vat, plant.loss("samples"), plant.quantity(lpa)))


@pytest.fixture
def closing(drawn: Movement, manager: Person, staff: Person) -> Closing:
    return agree(ask("2027-03", person=manager, remark="all is in", now=LATER), person=staff, now=LATER)


def text(page: object) -> str:
    return page.content.decode()  # type: ignore[attr-defined]


def test_a_figure_of_the_site_begins_on_the_first_open_day(closing: Closing, manager: Person) -> None:
    """March 2027 is closed, so a figure begins on 1 April at the earliest."""
    given = {"name": "frost", "source": "invented", "person": manager, "reason": "for the test"}
    assert closed_to() == date(2027, 3, 31)
    with pytest.raises(Unsettable, match="Set it from Thu 1 Apr 2027 on"):
        add_loss_cause(**given, from_day=date(2027, 3, 31))
    assert add_loss_cause(**given, from_day=date(2027, 4, 1)).pk


def test_one_asks_another_agrees(drawn: Movement, manager: Person, staff: Person, browser_of: BrowserOf) -> None:
    asks, agrees = browser_of(manager), browser_of(staff)
    month = text(asks.get("/books/months/2027-03/"))
    assert PAGE in month
    assert "Not closed" in month
    before = text(asks.get(PAGE))
    assert "No stock was taken in this period." in before
    assert "can be closed with a remark" in before
    unsaid = asks.post(PAGE, {"remark": " "} | seen_on(asks.get(PAGE)))
    assert "Say why it is closed all the same" in text(unsaid)
    assert "<title>Error: " in text(unsaid)
    assert not CloseRequest.objects.exists()

    done = asks.post(PAGE, {"remark": "vats were gauged"} | seen_on(asks.get(PAGE)), follow=True)
    assert "Asked to close March 2027. Another person who is signed on has to agree." in text(done)
    assert "Agree and close" not in text(done), "who asked is not offered to agree"
    request = CloseRequest.objects.get()
    own = asks.post(PAGE, {"request": request.pk})
    assert "asked for it; another person has to agree" in text(own)

    page = text(agrees.get(PAGE))
    assert "test-manager asked" in page
    assert "vats were gauged" in page
    assert "Agree and close March 2027" in page
    unsaid = text(agrees.post(PAGE, {"request": request.pk}))
    assert "Something has changed since this page was made" in unsaid, "a page that does not say what was on it"
    done = agrees.post(PAGE, {"request": request.pk} | seen_on(agrees.get(PAGE)), follow=True)
    closing = Closing.objects.get()
    assert closing.digest in text(done)
    assert grouped(closing.digest) in text(done)
    assert "the frozen balances give this digest" in text(done)
    assert "100.00" in text(done)
    assert "form" not in text(done).split("<main")[1].split("</main>")[0]


def test_the_second_agrees_beside_the_first_who_keeps_the_pen(
    drawn: Movement, manager: Person, staff: Person, browser_of: BrowserOf
) -> None:
    asks = browser_of(manager)
    asks.post(PAGE, {"remark": "vats were gauged"} | seen_on(asks.get(PAGE)))
    request = {"request": CloseRequest.objects.get().pk} | seen_on(asks.get(PAGE))
    same = asks.post(PAGE, request | {"second_name": manager.username, "second_password": "of-tests-only"})
    assert "asked for it; another person has to agree" in text(same)
    wrong = asks.post(PAGE, request | {"second_name": staff.username, "second_password": "not this"})
    assert "do not belong together" in text(wrong)
    assert not Closing.objects.exists()
    asks.post(PAGE, request | {"second_name": staff.username, "second_password": "of-tests-only"})
    assert Closing.objects.get().person == staff
    assert asks.get("/pen/now/", headers={"Accept": "application/json"}).json()["username"] == manager.username


def test_an_officer_reads_and_writes_nothing(drawn: Movement, officer: Person, browser_of: BrowserOf) -> None:
    browser = browser_of(officer)
    assert "A manager asks to close a period" in text(browser.get(PAGE))
    assert browser.post(PAGE, {"remark": "x"}).status_code == 403
    assert not CloseRequest.objects.exists()


def test_staff_do_not_ask(drawn: Movement, staff: Person, browser_of: BrowserOf) -> None:
    browser = browser_of(staff)
    assert "Ask to close" not in text(browser.get(PAGE)).split("<main")[1]
    assert "a manager asks for it" in text(browser.post(PAGE, {"remark": "x"}))


def test_what_is_no_period_is_not_found(manager: Person, browser_of: BrowserOf) -> None:
    assert browser_of(manager).get("/books/months/2027-13/close/").status_code == 404
    assert "has been posted yet" in text(browser_of(manager).get(PAGE))


def test_a_stranger_signs_on_first(drawn: Movement, stranger: Client) -> None:
    assert stranger.get(PAGE).status_code == 302
    assert stranger.get("/books/").status_code == 302


def test_a_form_that_names_another_request_closes_nothing(
    drawn: Movement, manager: Person, staff: Person, browser_of: BrowserOf
) -> None:
    first = ask("2027-03", person=manager, remark="x", now=LATER)
    ask("2027-03", person=manager, remark="y", now=LATER)
    assert "asked for again since" in text(browser_of(staff).post(PAGE, {"request": first.pk}))
    assert browser_of(staff).post(PAGE, {"request": "999"}).status_code == 200
    assert not Closing.objects.exists()


def test_the_periods_with_who_closed_them(closing: Closing, officer: Person, browser_of: BrowserOf) -> None:
    page = text(browser_of(officer).get("/books/"))
    assert page.index("April 2027") < page.index("March 2027")
    assert "Next to close" in page
    assert grouped(closing.digest) in page
    assert "Closed by test-manager and test-staff on Tue 1 Jun 2027 01:00" in text(
        browser_of(officer).get("/books/months/2027-03/")
    )


def test_the_printed_account_and_the_command_say_whether_it_is_closed(
    drawn: Movement, manager: Person, staff: Person, browser_of: BrowserOf, capsys: pytest.CaptureFixture[str]
) -> None:
    def printed() -> str:
        pdf = browser_of(manager).get("/books/months/2027-03/account.pdf")
        return " ".join(" ".join(one.extract_text() for one in PdfReader(io.BytesIO(pdf.content)).pages).split())

    def commanded() -> bool:
        call_command("month_account", "2027-03", "--json")
        closed: bool = json.loads(capsys.readouterr().out)["closed"]
        return closed

    assert "Not closed: entries can still be written into this period." in printed()
    assert commanded() is False
    closing = agree(ask("2027-03", person=manager, remark="x", now=LATER), person=staff, now=LATER)
    assert f"closing 1, digest {grouped(closing.digest)} in short, in full {closing.digest}" in printed()
    assert commanded() is True


def test_what_was_carried_says_when_it_truly_happened(
    closing: Closing, drawn: Movement, manager: Person, browser_of: BrowserOf
) -> None:
    [again] = correct([drawn], [draw(38)], person=manager, reason="misread")
    browser = browser_of(manager)
    page = text(browser.get(f"/books/movements/{again.pk}/"))
    assert "Fri 12 Mar 2027 12:00" in page
    assert "Thu 1 Apr 2027 00:00" in page
    assert "its own period was closed when this was written" in page
    account = text(browser.get("/books/accounts/VAT/?month=2027-04"))
    assert "of Fri 12 Mar 2027 12:00" in account
    assert "62.00" in account


def test_pages_ask_the_same_number_of_questions_however_many_periods(
    closing: Closing, manager: Person, staff: Person, browser_of: BrowserOf, django_assert_max_num_queries: object
) -> None:
    for period in ("2027-04", "2027-05"):
        agree(ask(period, person=manager, remark="x", now=LATER), person=staff, now=LATER)
    browser = browser_of(manager)
    # One of them asks for reports from the other end that are overdue.
    with django_assert_max_num_queries(12):  # type: ignore[operator]
        browser.get("/books/")


def test_the_digest_on_paper_is_known_again(closing: Closing, officer: Person, browser_of: BrowserOf) -> None:
    page = text(browser_of(officer).get("/books/check/", {"digest": grouped(closing.digest)}))
    assert "Closing 1 of 2027-03" in page
    assert "It is the digest of a closing agreed to Tue 1 Jun 2027 01:00." in page


def test_a_stock_period_is_entered_on_its_page(
    drawn: Movement, manager: Person, officer: Person, browser_of: BrowserOf
) -> None:
    page = "/books/stock-periods/"
    browser = browser_of(manager)
    assert "calendar months" in text(browser.get(page))
    typed = {"code": "2027-04", "first_day": "2027-03-29", "last_day": "2027-05-02", "source": "letter of 1 March 2027"}
    assert "at most 35 days, five weeks" in text(browser.post(page, typed | {"last_day": "2027-05-03"}))
    done = text(browser.post(page, typed, follow=True))
    assert "Stock period 2027-04 is entered." in done
    assert "letter of 1 March 2027" in done
    assert 'value="2027-05-03"' in done, "the next one begins the day after"
    assert browser_of(officer).post(page, typed).status_code == 403
    account = text(browser.get("/books/months/2027-04/"))
    assert "Stock period 2027-04, Mon 29 Mar 2027 to Sun 2 May 2027" in account
