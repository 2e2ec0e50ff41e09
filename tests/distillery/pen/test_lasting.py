"""How long somebody has the pen: the lock, the twelve hours, one PC, and what was typed meanwhile."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.test import Client

from distillery.pen import pcs
from distillery.pen.models import EnrolledPC
from tests.conftest import PASSWORD
from tests.distillery.pen.conftest import PIN, who

pytestmark = pytest.mark.django_db
FORM = "/site/rounding/"


@pytest.fixture
def clock() -> Iterator[Any]:
    with time_machine.travel(datetime.now(UTC), tick=False) as clock:
        yield clock


def test_pages_of_who_is_signed_on_are_kept_nowhere(browser_of, manager, stranger):
    assert browser_of(manager).get("/")["Cache-Control"] == "no-store"
    assert stranger.get("/bench/").get("Cache-Control", "") != "no-store"


def test_a_pc_locks_after_its_minutes_and_not_before(clock, enrolled):
    for _ in range(5):
        clock.shift(290)
        assert enrolled.get("/").status_code == 200
    clock.shift(306)
    answer = enrolled.get("/books/")
    assert answer.status_code == 302
    assert answer["Location"] == "/sign-on/?next=%2Fbooks%2F"


def test_what_no_person_is_behind_keeps_nothing_open(clock, enrolled):
    for _ in range(2):
        clock.shift(200)
        enrolled.get("/", headers={"X-Background": "1"})
    assert enrolled.get("/").status_code == 302


def test_a_pc_that_is_not_enrolled_locks_after_ten_minutes(clock, browser_of, manager):
    here = browser_of(manager)
    clock.shift(595)
    assert here.get("/").status_code == 200
    clock.shift(606)
    assert here.get("/").status_code == 302


def test_a_locked_pc_writes_nothing_and_loses_nothing_typed(clock, enrolled, with_pins, staff, manager):
    clock.shift(400)
    answer = enrolled.post(FORM, {"step": "0.1", "source": "Notice of ours"}, headers={"Origin": "http://testserver"})
    assert answer.status_code == 403
    page = answer.content.decode()
    assert "the PC is locked" in page
    assert 'name="typed:source" value="Notice of ours"' in page
    # Whoever takes the pen then gets it back, ready to be sent.
    kept = {"typed-on": FORM, "typed:source": "Notice of ours", "typed:step": "0.1", "next": FORM}
    back = enrolled.post("/sign-on/", {"username": staff.username, "password": PIN, **kept})
    assert 'name="source" value="Notice of ours"' in back.content.decode()
    assert who(enrolled) == staff.username


def test_a_locked_pc_shows_what_is_due_and_no_page_of_the_books(clock, enrolled):
    clock.shift(400)
    page = enrolled.get("/", follow=True).content.decode()
    assert "Locked: who has the pen?" in page
    assert "Act now" in page
    assert "Due" in page
    assert enrolled.get("/", headers={"Accept": "application/json"}).status_code == 403


def test_a_press_locks_at_once_until_somebody_takes_the_pen(enrolled, with_pins, take, staff):
    assert enrolled.post("/pen/lock/").status_code == 302
    assert enrolled.get("/").status_code == 302
    assert enrolled.post("/pen/keep/", headers={"Accept": "application/json"}).status_code == 403
    assert take(enrolled, staff, PIN).status_code == 200
    assert enrolled.get("/").status_code == 200


def test_an_older_cookie_or_none_opens_no_lock(clock, enrolled):
    enrolled.get("/")
    older = enrolled.cookies["gaugebook_seen"].value
    clock.shift(400)
    enrolled.cookies["gaugebook_seen"] = older
    assert enrolled.get("/").status_code == 302
    del enrolled.cookies["gaugebook_seen"]
    assert enrolled.get("/").status_code == 302
    enrolled.cookies["gaugebook_seen"] = str(int(datetime.now(UTC).timestamp()))
    assert enrolled.get("/").status_code == 302, "a cookie that the site did not sign"


def test_the_cookie_of_one_session_says_nothing_in_another(clock, enrolled, browser_of, manager):
    other = browser_of(manager)
    clock.shift(580)
    enrolled.get("/sign-on/")
    clock.shift(100)
    fresh = browser_of(manager)
    fresh.get("/")
    other.cookies["gaugebook_seen"] = fresh.cookies["gaugebook_seen"].value
    assert other.get("/").status_code == 302


def test_the_pen_ends_after_twelve_hours_however_busy(clock, enrolled):
    # The framework would end the session as well; here it is left to the pen alone.
    session = enrolled.session
    session.set_expiry(timedelta(days=2))
    session.save()
    for _ in range(12 * 15):
        clock.shift(240)
        if not who(enrolled):
            break
    assert datetime.now(UTC).timestamp() - EnrolledPC.objects.get().enrolled_at.timestamp() == pytest.approx(43_200)
    assert who(enrolled) == ""


def test_a_session_belongs_to_its_pc(enrolled):
    copied = Client()
    copied.cookies["sessionid"] = enrolled.cookies["sessionid"].value
    assert copied.get("/").status_code == 302, "the session of an enrolled PC goes on at another"


def test_the_pc_s_cookie_is_out_of_reach_of_scripts(enrolled):
    for name in ("gaugebook_pc", "gaugebook_seen", "sessionid"):
        cookie = enrolled.cookies[name]
        assert cookie["httponly"], name
        assert cookie["samesite"] == "Lax", name


def test_a_change_of_person_renews_the_token_of_the_page(enrolled, with_pins, take, staff):
    strict = Client(enforce_csrf_checks=True)
    strict.cookies = enrolled.cookies
    page = strict.get("/sign-on/?part=1").content.decode()
    before = page.partition('name="csrfmiddlewaretoken" value="')[2].partition('"')[0]
    asked = {"username": staff.username, "password": PIN, "csrfmiddlewaretoken": before}
    said = strict.post("/sign-on/", asked, headers={"Accept": "application/json"}).json()
    assert (said["username"], said["short"]) == (staff.username, staff.username)
    refused = strict.post("/pen/keep/", {"csrfmiddlewaretoken": before})
    assert refused.status_code == 403
    assert strict.post("/pen/keep/", {"csrfmiddlewaretoken": said["csrf"]}).status_code == 204


def test_names_on_shift_are_those_who_had_the_pen_lately(clock, enrolled, with_pins, take, staff, manager):
    from distillery.pen.shift import names

    assert [one.username for one in names().on_shift] == []
    assert "No one is on this shift. Choose your name." in at_the_same_pc(enrolled).get("/sign-on/").content.decode()
    take(enrolled, manager, PASSWORD)
    clock.shift(60)
    take(enrolled, staff, PIN)
    assert [one.username for one in names().on_shift] == [staff.username, manager.username]
    clock.shift(12 * 3600)
    assert [one.username for one in names().on_shift] == []


def at_the_same_pc(enrolled: Client) -> Client:
    """A browser at the same PC at which nobody has signed on."""
    here = Client()
    here.cookies["gaugebook_pc"] = enrolled.cookies["gaugebook_pc"].value
    return here


def test_nobody_s_name_is_told_to_a_pc_that_is_not_enrolled(stranger, staff):
    assert staff.username not in stranger.get("/sign-on/").content.decode()


@pytest.mark.parametrize("role", ["staff", "officer"])
def test_who_keeps_no_plant_enrols_and_ends_no_pc(role, request, enrolled, browser_of):
    person = request.getfixturevalue(role)
    here = browser_of(person)
    assert here.post("/site/pc/enrol/", {"name": "Mine", "place": "Desk"}).status_code == 403
    assert here.post("/site/pc/end/", {"pc": EnrolledPC.objects.get().pk}).status_code == 403
    assert EnrolledPC.objects.filter(ended_at=None).count() == 1


@pytest.mark.parametrize(("minutes", "fits"), [("1", False), ("2", True), ("30", True), ("31", False), ("x", False)])
def test_a_pc_locks_after_two_to_thirty_minutes(minutes, fits, browser_of, manager):
    asked = {"name": "Office PC", "place": "Desk", "idle_minutes": minutes}
    assert (browser_of(manager).post("/site/pc/enrol/", asked).status_code == 302) is fits
    assert EnrolledPC.objects.filter(name="Office PC").exists() is fits


@pytest.mark.parametrize("minutes", [1, 31])
def test_whatever_asks_no_pc_is_enrolled_for_more_or_fewer_minutes(minutes, manager):
    with pytest.raises(pcs.NotEnrolled, match="locks after 2 to 30 minutes"):
        pcs.enrol(person=manager, name="Office PC", place="Desk", idle_minutes=minutes)


def test_an_answer_that_nobody_waits_for_brings_no_token_along(browser_of, staff):
    """A page that asks again by itself may be answered after somebody signed on; the token of before is refused."""
    here = browser_of(staff)
    assert "csrftoken" in here.get("/").cookies
    assert "csrftoken" in here.get("/").cookies
    assert "csrftoken" not in here.get("/", headers={"X-Background": "1"}).cookies
    assert "csrftoken" not in here.get("/pen/now/", headers={"X-Background": "1", "Accept": "application/json"}).cookies
