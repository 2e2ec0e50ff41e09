"""A comparison that fails: the entry stays, every page that leans on it says so, the proof remarks on it, no close."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import UTC, datetime
from io import StringIO
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.test import Client

from batches.models import Record
from batches.records import recording
from distillery.people.models import Person
from ledger.comparing import compare
from ledger.enquiries.compared import standing_failures
from ledger.enquiries.models import ComparisonOutcome, Enquiry
from ledger.kept.keeping import let_go
from ledger.models import Movement
from ledger.periods import service
from ledger.periods.models import CloseRequest
from ledger.periods.readiness import not_ready
from ledger.periods.service import CannotClose
from ledger.statements.month import month_account
from ledger.statements.printed import month_account_sheet

pytestmark = pytest.mark.usefixtures("loaded_month")

PERIOD = "2027-03"
SLIP = "SR0007"
LATER = datetime(2027, 6, 1, tzinfo=UTC)
SAID = "The figures of March 2027 could not be compared"
BrowserOf = Callable[[Person], Client]


def put_dip(value: str, person: Person) -> None:
    record = Record.objects.get(number=SLIP)
    recording.correct(record, {"spirit_after_dip_mm": value}, person=person, reason="Read again.")


def pages() -> dict[str, str]:
    enquiry = Enquiry.objects.get(record_number=SLIP)
    return {
        "findings": f"/books/findings/?month={PERIOD}",
        "month": f"/books/months/{PERIOD}/",
        "record": f"/records/spirit_run/{SLIP}/",
        "enquiry": f"/books/enquiries/{enquiry.number}/",
        "closing": f"/books/months/{PERIOD}/close/",
    }


@pytest.fixture
def broken(monkeypatch: pytest.MonkeyPatch) -> pytest.MonkeyPatch:
    """What looks for findings fails, as it would by a fault of the program; undone, it works again."""

    def fails(*arguments: Any, **more: Any) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(compare, "findings_in", fails)
    let_go()
    return monkeypatch


def test_the_entry_is_kept_and_the_failure_with_it(broken: pytest.MonkeyPatch, manager: Person) -> None:
    before = Movement.objects.count()
    put_dip("927", manager)
    assert Movement.objects.count() > before
    [failed] = standing_failures()
    assert (failed.period, failed.after, failed.error) == (PERIOD, f"{SLIP}, TR0005", "ZeroDivisionError"), (
        "the transfer whose gauge was restated was looked at too"
    )


def test_every_page_that_leans_on_it_says_so(
    broken: pytest.MonkeyPatch, manager: Person, browser_of: BrowserOf
) -> None:
    addresses = pages()
    put_dip("927", manager)
    browser = browser_of(manager)
    for name, address in addresses.items():
        answer = browser.get(address)
        assert answer.status_code == 200, name
        assert SAID in answer.content.decode(), name
    finding = browser.get(f"/books/findings/{PERIOD}/{SLIP}/")
    assert finding.status_code == 200
    assert SAID in finding.content.decode()
    assert "Nothing is beyond its review threshold" not in browser.get(addresses["findings"]).content.decode()
    assert any(SAID in one for one in month_account_sheet(month_account(PERIOD)).remarks), "on paper too"


def test_a_page_says_so_before_anything_was_written_down(
    broken: pytest.MonkeyPatch, manager: Person, browser_of: BrowserOf
) -> None:
    browser = browser_of(manager)
    for name, address in pages().items():
        answer = browser.get(address)
        assert answer.status_code == 200, name
        assert ("could not be compared" in answer.content.decode()) == (name != "closing"), name
    assert not ComparisonOutcome.objects.exists(), "looking writes nothing"


def test_the_proof_remarks_on_it_and_still_holds(broken: pytest.MonkeyPatch, manager: Person) -> None:
    put_dip("927", manager)
    said = StringIO()
    call_command("verify_ledger", "--json", stdout=said)
    proof = json.loads(said.getvalue())
    assert proof["holds"], proof["broken"]
    assert [one for one in proof["remarks"] if SAID in one and SLIP in one]


def test_the_command_ends_with_the_sentence(broken: pytest.MonkeyPatch) -> None:
    with pytest.raises(CommandError, match=r"March 2027 could not be compared \(ZeroDivisionError\)"):
        call_command("findings", "--period", PERIOD)


def test_nothing_closes_while_it_lasts(broken: pytest.MonkeyPatch, manager: Person) -> None:
    put_dip("927", manager)
    assert [one for one in not_ready(PERIOD, now=LATER) if SAID in one.sentence]
    with pytest.raises(CannotClose, match=f"{SAID}.*Nothing was closed"):
        service.ask(PERIOD, person=manager, remark="x", now=LATER)
    assert not CloseRequest.objects.exists()
    assert standing_failures()[0].after == "the closing of March 2027 was asked for"


def test_the_next_entry_settles_it(broken: pytest.MonkeyPatch, manager: Person, browser_of: BrowserOf) -> None:
    addresses = pages()
    put_dip("927", manager)
    broken.undo()
    put_dip("926", manager)
    assert standing_failures() == []
    assert [one.error for one in ComparisonOutcome.objects.order_by("pk")] == ["ZeroDivisionError", ""]
    assert not [one for one in not_ready(PERIOD, now=LATER) if SAID in one.sentence]
    for name, address in addresses.items():
        assert SAID not in browser_of(manager).get(address).content.decode(), name
