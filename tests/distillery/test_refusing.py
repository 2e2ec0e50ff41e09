"""Requests that cannot be read, a full disk, faults, forms sent too late: a true sentence, nothing typed is lost."""

from __future__ import annotations

import logging
import re
import sqlite3
from collections.abc import Callable
from typing import Any

import pytest
from django.db import OperationalError
from django.test import Client

from distillery.database.full_disk import FullDisk, is_full
from distillery.starting.console import InsidesOfFaultsOnly
from distillery.typed.given_back import TypedAgain
from tests.conftest import PASSWORD

pytestmark = pytest.mark.django_db

NUL = "\0"
NEW = "/records/intake/new/"
ORIGIN = {"origin": "http://testserver"}
TYPED = {"kilograms": "10250", "silo": "A <b>", "at": "2027-03-01 06:00", "sending": "t" * 20}


def page_of(answer: Any) -> str:
    return str(answer.content.decode())


def boxes_of(page: str) -> dict[str, str]:
    """What the button under what was typed would send."""
    part = page.partition("What you typed")[2]
    return dict(re.findall(r'<input type="hidden" name="([^"]*)" value="([^"]*)">', part))


def full(*args: object, **kwargs: object) -> None:
    cause = sqlite3.OperationalError("database or disk is full")
    cause.sqlite_errorcode = sqlite3.SQLITE_FULL
    raise OperationalError("database or disk is full") from cause


@pytest.fixture
def sits_at(manager: Any) -> Callable[..., Client]:
    """The manager's browser as it is in earnest: forged forms are looked for, faults become pages."""

    def make(*, signed_on: bool = True) -> Client:
        browser = Client(enforce_csrf_checks=True, raise_request_exception=False)
        if signed_on:
            browser.force_login(manager)
        return browser

    return make


def token(browser: Client, address: str) -> str:
    found = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', page_of(browser.get(address)))
    assert found is not None
    return found[1]


@pytest.mark.parametrize(
    "address",
    [
        "/find/?q=a%00b",
        "/records/intake/%00/",
        "/casks/%00/",
        "/books/accounts/a%00/",
        "/books/?month=%00",
        "/books/findings/2027-03/%00/",
        "/books/enquiries/%00/",
        "/bench/gauge/?dip_mm=%00",
        "/warehouse/?warehouse=%00",
        "/records/?before=%00",
        "/sign-on/?next=%00",
    ],
)
def test_a_nul_in_an_address_is_refused_with_a_sentence(browser_of: Any, manager: Any, address: str) -> None:
    answer = browser_of(manager).get(address)
    assert answer.status_code == 400
    assert "character (NUL) that no text can hold" in page_of(answer)


def test_a_nul_in_a_form_is_refused_and_what_was_typed_stands(browser_of: Any, manager: Any) -> None:
    from batches.models import Record

    browser = browser_of(manager)
    answer = browser.post(NEW, {**TYPED, "kilograms": f"10250{NUL}", "password": "hidden-words"}, headers=ORIGIN)
    page = page_of(answer)
    assert answer.status_code == 400
    assert "<dt>kilograms</dt><dd>10250</dd>" in page
    assert "A &lt;b&gt;" in page
    assert "hidden-words" not in page
    assert f'action="{NEW}"' in page
    assert not Record.objects.exists()


def test_a_nul_in_a_password_or_a_cookie_is_refused(stranger: Client) -> None:
    assert stranger.post("/sign-on/", {"username": f"a{NUL}", "password": "x"}).status_code == 400
    stranger.cookies["sessionid"] = f"abcdefgh{NUL}"
    assert stranger.get("/").status_code in (302, 400)


def test_a_form_of_absurd_size_is_refused(browser_of: Any, manager: Any) -> None:
    browser = browser_of(manager)
    answer = browser.post(NEW, {"silo": "x" * 3_000_000}, content_type="application/x-www-form-urlencoded")
    assert answer.status_code in (200, 413)
    many = "&".join(f"a{one}=1" for one in range(5_100))
    answer = browser.generic("POST", NEW, many.encode(), content_type="application/x-www-form-urlencoded")
    assert answer.status_code == 413
    assert "larger than any form of this site" in page_of(answer)


def test_what_was_typed_when_the_time_at_the_pc_ended_comes_back_after_signing_on(sits_at: Any, manager: Any) -> None:
    browser = sits_at()
    sent = {**TYPED, "csrfmiddlewaretoken": token(browser, NEW)}
    browser.cookies.pop("sessionid")
    answer = browser.post(NEW, sent, headers=ORIGIN)
    page = page_of(answer)
    assert answer.status_code == 403
    assert "nobody is signed on" in page
    assert "<dt>kilograms</dt><dd>10250</dd>" in page
    kept = dict(re.findall(r'<input type="hidden" name="(typed[^"]*)" value="([^"]*)">', page))
    assert kept["typed:kilograms"] == "10250"
    assert "typed:csrfmiddlewaretoken" not in kept
    on = {"next": NEW, "username": manager.username, **kept, "csrfmiddlewaretoken": sent["csrfmiddlewaretoken"]}
    # A wrong password loses nothing either.
    wrong = page_of(browser.post("/sign-on/", {**on, "password": "wrong"}, headers=ORIGIN))
    assert 'name="typed:kilograms" value="10250"' in wrong
    again = page_of(browser.post("/sign-on/", {**on, "password": PASSWORD}, headers=ORIGIN))
    assert "not saved yet" in again
    boxes = boxes_of(again)
    assert boxes["kilograms"] == "10250"
    assert boxes["sending"] == TYPED["sending"]
    sheet = browser.post(NEW, boxes, headers=ORIGIN)
    # The sheet itself again, with the figure in its box: the token of the page was good, and the rest was blank.
    assert sheet.status_code == 200
    assert 'value="10250"' in page_of(sheet)


def test_what_waits_is_never_sent_to_another_site(stranger: Client, manager: Any) -> None:
    on = {"username": manager.username, "password": PASSWORD, "typed:kilograms": "1"}
    for where in ("//elsewhere.invalid/", "https://elsewhere.invalid/", "/\\elsewhere.invalid", "javascript:x"):
        assert "elsewhere" not in page_of(Client().post("/sign-on/", {**on, "typed-on": where}))


def test_a_page_opened_before_somebody_signed_on_gives_back_what_was_typed(sits_at: Any) -> None:
    browser = sits_at()
    answer = browser.post(NEW, {**TYPED, "csrfmiddlewaretoken": "x" * 64}, headers=ORIGIN)
    page = page_of(answer)
    assert answer.status_code == 403
    assert "still stand" not in page
    assert "<dt>kilograms</dt><dd>10250</dd>" in page
    boxes = boxes_of(page)
    assert 'value="10250"' in page_of(browser.post(NEW, boxes, headers=ORIGIN))


@pytest.mark.parametrize("origin", [{}, {"origin": "https://elsewhere.invalid"}, {"origin": "null"}])
def test_what_another_site_sent_is_shown_and_cannot_be_sent_from_here(sits_at: Any, origin: dict[str, str]) -> None:
    page = page_of(sits_at().post(NEW, TYPED, headers=origin))
    assert "10250" in page
    assert "Send it again" not in page
    assert "cannot be sent again from here" in page


@pytest.mark.parametrize("status", [500, 503, 507])
def test_a_page_for_an_error_gives_back_what_was_typed(
    sits_at: Any, monkeypatch: pytest.MonkeyPatch, status: int
) -> None:
    from batches.pages.writing import entering
    from distillery.database.retrying import Busy

    def fails(*args: object, **kwargs: object) -> None:
        raise {500: RuntimeError("planted"), 503: Busy(), 507: FullDisk()}[status]

    browser = sits_at()
    sent = {**TYPED, "csrfmiddlewaretoken": token(browser, NEW)}
    monkeypatch.setattr(entering, "EntryForm", fails)
    answer = browser.post(NEW, sent, headers=ORIGIN)
    page = page_of(answer)
    assert answer.status_code == status
    assert "still stand" not in page
    assert "planted" not in page
    assert "<dt>kilograms</dt><dd>10250</dd>" in page
    assert {500: "Something went wrong", 503: "The books are busy", 507: "The disk is full"}[status] in page
    monkeypatch.undo()
    boxes = boxes_of(page)
    assert 'value="10250"' in page_of(browser.post(NEW, boxes, headers=ORIGIN))


def test_a_full_disk_has_a_page_of_its_own_wherever_it_is_met(sits_at: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    from django.contrib.sessions.backends.db import SessionStore

    from batches.records import recording

    browser = sits_at()
    sent = {"csrfmiddlewaretoken": token(browser, NEW), "kilograms": "10250"}
    with monkeypatch.context() as patched:
        patched.setattr(recording, "save", full)
        answer = browser.post(NEW, sent, headers=ORIGIN)
    assert answer.status_code == 507
    # Outside of every view: the session that cannot be kept.
    on = sits_at(signed_on=False)
    given = {"username": "test-manager", "password": PASSWORD, "csrfmiddlewaretoken": token(on, "/sign-on/")}
    monkeypatch.setattr(SessionStore, "save", full)
    answer = on.post("/sign-on/", given, headers=ORIGIN)
    assert answer.status_code == 507
    assert FullDisk.sentence in page_of(answer)


def test_what_says_that_a_disk_is_full() -> None:
    class Server(Exception):
        sqlstate = "53100"

    wrapped = OperationalError("could not extend file")
    wrapped.__cause__ = Server()
    assert is_full(wrapped)
    assert is_full(OSError(28, "No space left on device"))
    assert not is_full(OSError(13, "Permission denied"))
    assert not is_full(OperationalError("database is locked"))
    with pytest.raises(OperationalError) as error:
        full()
    assert is_full(error.value)


def test_the_page_for_a_fault_comes_even_where_pages_cannot_be_made(
    sits_at: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    from distillery import refusing

    def fails(*args: object) -> TypedAgain:
        raise RuntimeError("planted")

    monkeypatch.setattr(refusing, "typed_on", fails)
    monkeypatch.setattr("batches.pages.places.finding._whole", fails)
    answer = sits_at().get("/find/?q=x")
    assert answer.status_code == 500
    assert "Something went wrong" in page_of(answer)


def test_a_refused_page_is_one_line_on_the_console() -> None:
    def seen(status: int) -> logging.LogRecord:
        record = logging.LogRecord("django.request", 30, "", 0, "Forbidden: /", None, (ValueError, ValueError(), None))
        record.status_code = status
        InsidesOfFaultsOnly().filter(record)
        return record

    assert seen(403).exc_info is None
    assert seen(500).exc_info is not None


@pytest.mark.parametrize(
    "address",
    [
        "/books/months/{}/",
        "/books/months/{}/account.pdf",
        "/books/months/{}/close/",
        "/books/findings/?month={}",
        "/books/findings/{}/TR0001/",
        "/books/losses/?month={}",
        "/books/losses/{}/register.csv",
        "/books/losses/{}/register.pdf",
        "/books/accounts/source:opening%20stock/?month={}",
        "/records/intake/?month={}",
        "/records/intake/?after={}-31T23:59:59%2B00:00_1",
        "/records/intake/?before={}-01T00:00:00%2B14:00_1",
        "/books/accounts/x/?after={}-31T23:59:59%2B00:00~1~1",
    ],
)
@pytest.mark.parametrize("month", ["9999-12", "0001-01", "0000-05", "9999-13", "\u0662\u0660\u0662\u0667-03"])
def test_a_month_no_clock_can_reach_is_not_there(browser_of: Any, manager: Any, address: str, month: str) -> None:
    assert browser_of(manager).get(address.format(month)).status_code in (200, 404)


def test_a_text_too_long_to_be_a_number_is_not_looked_for(browser_of: Any, manager: Any) -> None:
    answer = browser_of(manager).get("/find/", {"q": "x" * 60_000})
    assert answer.status_code == 200
    assert "60000 characters long" in page_of(answer)
    assert len(answer.content) < 20_000
