"""People change their own password: the old one asked, the new one twice, and every other session of theirs over."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from distillery.pen.models import Try
from distillery.people.changes import PersonChange
from distillery.people.models import Person
from distillery.people.passwords import ASKS, SHORTEST
from tests.conftest import PASSWORD

pytestmark = pytest.mark.django_db
NEW = "a-copper-lantern-9"
FORM = "/own-password/"


def typed(**other: str) -> dict[str, str]:
    return {"password_now": PASSWORD, "password": NEW, "password_again": NEW} | other


@pytest.fixture
def clock() -> Iterator[Any]:
    with time_machine.travel(datetime.now(UTC), tick=False) as clock:
        yield clock


def test_the_page_says_once_what_a_password_asks(staff: Person, browser_of: Callable[[Person], Client]) -> None:
    assert reverse("own_password") == FORM
    here = browser_of(staff)
    page = here.get(FORM).content.decode()
    assert page.count(ASKS) == 1
    assert f"{SHORTEST} characters" in ASKS
    assert FORM in here.get("/bench/").content.decode(), "a way leads there from every page"


def test_a_new_password_works_and_other_sessions_are_over(
    staff: Person, browser_of: Callable[[Person], Client]
) -> None:
    here, elsewhere = browser_of(staff), browser_of(staff)
    assert here.post(FORM, typed()).status_code == 302
    assert here.get("/").status_code == 200, "this session goes on"
    assert elsewhere.get("/").status_code == 302
    staff.refresh_from_db()
    assert staff.check_password(NEW)
    change = PersonChange.objects.get(person=staff, what="password")
    assert (change.by, change.reason) == (staff, "changed by its owner")


@pytest.mark.parametrize(
    ("other", "said"),
    [
        ({"password_now": ""}, "fill it in"),
        ({"password_now": "not this one"}, "That is not your password"),
        ({"password_again": "a-copper-lantern-8"}, "The two passwords are not the same"),
        ({"password": "short-one-9", "password_again": "short-one-9"}, "too short"),
        ({"password": "qwertyuiop123", "password_again": "qwertyuiop123"}, "too common"),
        ({"password": " " * 14, "password_again": " " * 14}, "different characters"),
        ({"password": PASSWORD, "password_again": PASSWORD}, "the password you have"),
    ],
)
def test_what_cannot_be_is_refused_and_never_shown(
    staff: Person, browser_of: Callable[[Person], Client], other: dict[str, str], said: str
) -> None:
    sent = typed(**other)
    answer = browser_of(staff).post(FORM, sent)
    page = answer.content.decode()
    assert answer.status_code == 200
    assert said in page
    for secret in filter(str.strip, sent.values()):
        assert f'value="{secret}"' not in page
    staff.refresh_from_db()
    assert staff.check_password(PASSWORD)
    assert not PersonChange.objects.filter(person=staff, what="password").exists()


def test_wrong_old_passwords_wait_and_are_on_record(
    clock: Any, staff: Person, browser_of: Callable[[Person], Client]
) -> None:
    here = browser_of(staff)
    for _ in range(3):
        here.post(FORM, typed(password_now="not this one"))
    answer = here.post(FORM, typed())
    assert "Wait 30 s before the next try" in answer.content.decode()
    assert Try.objects.filter(name=staff.username, way="password", what="tried", answer__isnull=True).count() == 3
    clock.shift(31)
    assert here.post(FORM, typed()).status_code == 302


def test_an_officer_writes_no_password(officer: Person, browser_of: Callable[[Person], Client]) -> None:
    here = browser_of(officer)
    assert here.get(FORM).status_code == 403
    assert here.post(FORM, typed()).status_code == 403
    assert FORM not in here.get("/bench/").content.decode()


def test_a_secret_that_a_locked_pc_was_sent_is_not_given_back(
    clock: Any, staff: Person, browser_of: Callable[[Person], Client]
) -> None:
    here = browser_of(staff)
    clock.shift(700)
    from_here = {"Origin": "http://testserver"}
    for address, sent in ((FORM, typed()), ("/site/pin/?name=x", {"pin": "583026", "again": "583026"})):
        answer = here.post(address, sent, headers=from_here)
        assert answer.status_code == 403
        for secret in sent.values():
            assert secret not in answer.content.decode()
