"""Wrong tries: waits that grow, a PIN that stops after ten, and colleagues who are never kept out by them."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.db import DatabaseError, transaction
from django.test import Client

from distillery.pen.models import Try
from distillery.pen.trying import pins
from distillery.pen.trying.tries import Place, Refused, Way, compared, wait_after
from tests.conftest import PASSWORD
from tests.distillery.pen.conftest import OTHER_PIN, PIN, who

pytestmark = pytest.mark.django_db
HERE = Place("", "127.0.0.1")


@pytest.fixture
def clock() -> Iterator[Any]:
    with time_machine.travel(datetime.now(UTC), tick=False) as clock:
        yield clock


def test_waits_double_from_half_a_minute_to_a_quarter_of_an_hour():
    # Worked by hand: 30 doubled, never over 900.
    assert [wait_after(wrong) for wrong in range(11)] == [0, 0, 0, 30, 60, 120, 240, 480, 900, 900, 900]
    assert wait_after(10_000) == 900


def wrong(here: Any, take: Any, person: Any) -> str:
    answer = take(here, person, "402918")
    assert answer.status_code == 403
    return " ".join(answer.json()["sentences"])


def test_ten_wrong_pins_wait_longer_and_longer_and_then_stop(clock, enrolled, with_pins, take, staff, manager):
    said = []
    for number in range(10):
        said.append(wrong(enrolled, take, staff))
        # The right PIN is not even looked at while a wait stands.
        if wait_after(number + 1) and number < 9:
            assert "Wait" in take(enrolled, staff, PIN).json()["sentences"][0]
        clock.shift(wait_after(number + 1))
    assert said[0] == "That PIN does not match. 9 tries left."
    assert said[2] == "That PIN does not match. 7 tries left. Wait 30 s before the next."
    assert said[8].startswith("That PIN does not match. 1 try left.")
    assert "is stopped after 10" in said[9]
    clock.shift(86_400)
    take(enrolled, manager, OTHER_PIN)
    assert "is stopped" in take(enrolled, staff, PIN).json()["sentences"][0]
    # One person stopped stops no other, and the one stopped still has a password.
    assert who(enrolled) == manager.username
    assert take(enrolled, staff, PASSWORD).status_code == 200
    tries = Try.objects.filter(name=staff.username, way=Way.PIN, answer__isnull=True)
    assert tries.count() == 10
    assert set(tries.values_list("pc", flat=True)) == {"Still house PC"}
    assert list(tries.values_list("wait_s", flat=True)) == [wait_after(number + 1) for number in range(10)]
    assert tries.filter(stops=True).count() == 1


def test_a_pin_chosen_anew_is_not_stopped(clock, enrolled, with_pins, take, staff, manager):
    for number in range(10):
        wrong(enrolled, take, staff)
        clock.shift(wait_after(number + 1) + 1)
    pins.choose(staff, "583026", "583026", present=manager)
    assert take(enrolled, staff, "583026").status_code == 200


def test_fifty_wrong_passwords_at_one_place_take_over_an_hour(clock, staff, manager, officer, administrator):
    """Whoever's names are tried, known ones or any others, whichever is free soonest."""
    people = [staff, manager, officer, administrator, None]
    begun, made = datetime.now(UTC), 0
    while made < 50:
        for person in people:
            with suppress(Refused):
                compared(person, Way.PASSWORD, HERE, lambda: None)
        made = Try.objects.count()
        # The shortest wait there is.
        clock.shift(30)
    assert datetime.now(UTC) - begun > timedelta(hours=1)


def test_a_colleague_signs_on_while_names_are_tried(clock, take, staff, manager):
    here = Client()
    for _ in range(30):
        take(here, staff, "not this one")
        take(here, "nobody-here", "not this one")
        clock.shift(20)
    assert take(here, staff, PASSWORD).status_code == 403
    assert take(here, manager, PASSWORD).status_code == 200


def test_somebody_elsewhere_is_not_kept_out_by_wrong_passwords_here(clock, take, staff):
    here, elsewhere = Client(REMOTE_ADDR="10.0.0.7"), Client(REMOTE_ADDR="10.0.0.8")
    for _ in range(4):
        take(here, staff, "not this one")
    assert take(here, staff, PASSWORD).status_code == 403
    assert take(elsewhere, staff, PASSWORD).status_code == 200


def test_tries_that_go_on_at_one_moment_count_as_wrong_until_one_is_found_right(staff):
    """Fifty at once get no further than fifty in turn: each is written before anything is compared."""
    seen = []

    def slow() -> None:
        for _ in range(5):
            try:
                compared(staff, Way.PASSWORD, HERE, lambda: None)
            except Refused as refused:
                seen.append(refused.wait_s)

    def compare() -> str:
        slow()
        return "right"

    assert compared(staff, Way.PASSWORD, HERE, compare) == "right"
    # The one that is still going on is the first of three that are free.
    assert [wait > 0 for wait in seen] == [False, True, True, True, True]


def test_a_name_nobody_has_is_not_written_down(take):
    take(Client(), "my-password-in-the-wrong-box", "x")
    assert Try.objects.get().name == ""


def test_a_try_that_found_no_turn_does_not_count(staff):
    from distillery.people.hashing import ManySigningOn

    def busy() -> None:
        raise ManySigningOn

    for _ in range(5):
        with pytest.raises(ManySigningOn):
            compared(staff, Way.PASSWORD, HERE, busy)
    assert compared(staff, Way.PASSWORD, HERE, lambda: "right") == "right"


@pytest.mark.parametrize("act", ["update", "delete"])
def test_no_try_is_changed_or_taken_away(act, staff):
    with pytest.raises(Refused):
        compared(staff, Way.PASSWORD, HERE, lambda: None)
    with pytest.raises(DatabaseError, match="keeps what was written"), transaction.atomic():
        Try.objects.update(wait_s=0) if act == "update" else Try.objects.all().delete()


def test_wrong_tries_stand_on_the_site_page(enrolled, with_pins, take, staff, browser_of, manager):
    wrong(enrolled, take, staff)
    page = browser_of(manager).get("/site/").content.decode()
    assert "Wrong tries" in page
    assert "PIN, wrong" in page
    assert "Still house PC" in page


def test_capitals_of_a_name_do_not_matter_and_the_box_is_called_name(take, person_of):
    person_of("brodie", "staff")
    here = Client()
    assert "Username" not in here.get("/sign-on/").content.decode()
    assert take(here, "Brodie").status_code == 200
    assert who(here) == "brodie"


def test_a_name_longer_than_any_is_nobodys(staff):
    """SQLite refuses to look for more than 50,000 bytes in any case (sqlite.org/limits.html, LIKE or GLOB pattern)."""
    for name in ("x" * 60_000, staff.username * 6_000):
        answer = Client().post("/sign-on/", {"username": name, "password": PASSWORD})
        assert answer.status_code == 200
        assert "_auth_user_id" not in answer.client.session
