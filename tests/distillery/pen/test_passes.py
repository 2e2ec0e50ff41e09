"""An officer's dated pass: made by a manager, read only, over by itself."""

from __future__ import annotations

import re
from datetime import UTC, datetime

import pytest
import time_machine
from django.test import Client

from distillery.pen.models import DatedPass
from distillery.pen.trying import passes
from tests.distillery.pen.conftest import who

pytestmark = [pytest.mark.django_db, pytest.mark.own_clock]
# Summer time in the zone of the tests' site: the day ends at 22:59:59 UTC.
NOON = datetime(2027, 6, 3, 12, tzinfo=UTC)


def made(manager, browser_of, **asked) -> tuple[str, Client]:
    answer = browser_of(manager).post("/site/pass/", {"username": "r.alder", "name": "Rowan Alder", **asked})
    page = answer.content.decode()
    assert answer.status_code == 200, page
    codes = re.findall(r'<dd class="code">([^<]*)</dd>', page)
    assert codes, page
    return codes[1], Client()


def test_a_pass_reads_writes_nothing_and_ends_with_the_day(manager, browser_of, take):
    with time_machine.travel(NOON, tick=False) as clock:
        password, here = made(manager, browser_of)
        assert DatedPass.objects.get().ends_at == datetime(2027, 6, 3, 22, 59, 59, tzinfo=UTC)
        assert take(here, "r.alder", password).status_code == 200
        assert here.get("/books/").status_code == 200
        assert here.get("/records/transfer/new/").status_code == 403
        assert here.get("/site/").status_code == 200
        assert here.get("/site/figures/thresholds/new/").status_code == 403
        clock.move_to(datetime(2027, 6, 3, 22, 55, tzinfo=UTC))
        take(here, "r.alder", password)
        assert here.get("/books/").status_code == 200
        clock.move_to(datetime(2027, 6, 3, 23, 0, tzinfo=UTC))
        assert who(here) == "", "the session goes on after the pass"
        again = take(here, "r.alder", password)
        assert again.status_code == 403
        assert "Your pass ended Thu 3 Jun 2027 23:59" in again.json()["sentences"][0]


def test_another_pass_opens_again_under_another_password(manager, browser_of, take):
    with time_machine.travel(NOON, tick=False) as clock:
        first, _ = made(manager, browser_of)
        clock.shift(86_400)
        second, here = made(manager, browser_of, last_day="2027-06-06")
        assert take(here, "r.alder", first).status_code == 403
        assert take(here, "r.alder", second).status_code == 200
        assert DatedPass.objects.count() == 2


def test_nobody_with_another_part_gets_a_pass(manager, browser_of, staff):
    answer = browser_of(manager).post("/site/pass/", {"username": staff.username})
    assert "has another part here" in answer.content.decode()
    assert not DatedPass.objects.exists()


def test_a_day_that_is_over_is_no_last_day(manager, browser_of):
    with time_machine.travel(NOON, tick=False):
        answer = browser_of(manager).post("/site/pass/", {"username": "r.alder", "last_day": "2027-06-02"})
        assert "That day is over" in answer.content.decode()


@pytest.mark.parametrize("role", ["staff", "officer", "administrator"])
def test_a_manager_alone_makes_passes(role, request, browser_of):
    somebody = request.getfixturevalue(role)
    here = browser_of(somebody)
    assert here.post("/site/pass/", {"username": "r.alder"}).status_code == 403
    with pytest.raises(passes.NoPass, match="A manager makes passes"):
        passes.make(person=somebody, username="r.alder", name="")
