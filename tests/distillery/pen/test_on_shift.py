"""Who is on shift: by having had the pen, by a colleague's word, and no longer."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone

from distillery.pen import roster
from distillery.pen.models import OnShift
from distillery.pen.shift import names
from distillery.trail.models import Entry
from tests.distillery.pen.conftest import PIN

pytestmark = pytest.mark.django_db


def on_shift() -> list[str]:
    return [one.username for one in names().on_shift]


def test_somebody_is_put_on_for_some_hours_and_no_longer(staff, manager):
    assert manager.username not in on_shift()
    row = roster.put_on(manager, hours=8, by=staff)
    assert on_shift() == [manager.username]
    assert manager.username in roster.on_this_shift(row.until - timedelta(seconds=1))
    assert manager.username not in roster.on_this_shift(row.until + timedelta(seconds=1))
    assert Entry.objects.filter(table="pen_onshift").count() == 1


def test_the_latest_stands_first(staff, manager):
    roster.put_on(staff, hours=8, by=staff)
    roster.put_on(manager, hours=8, by=staff)
    assert on_shift() == [manager.username, staff.username]


def test_taken_off_and_put_on_again(staff, manager):
    roster.put_on(manager, hours=8, by=staff)
    roster.take_off(manager, by=staff)
    assert on_shift() == []
    row = OnShift.objects.get()
    assert (row.ended_by_id, row.ended_at is not None) == (staff.pk, True)
    roster.put_on(manager, hours=2, by=staff)
    assert on_shift() == [manager.username]


def test_an_officer_who_signs_on_is_not_on_shift(client, take, officer, staff):
    assert take(client, officer).status_code == 200
    assert take(client, staff).status_code == 200
    assert on_shift() == [staff.username]


@pytest.mark.usefixtures("with_pins")
def test_who_had_the_pen_is_on_shift_until_taken_off_and_again_once_they_take_it(enrolled, take, staff, manager):
    assert take(enrolled, staff, PIN).status_code == 200
    assert staff.username in on_shift()
    roster.take_off(staff, by=manager)
    assert staff.username not in on_shift()
    assert take(enrolled, staff, PIN).status_code == 200
    assert staff.username in on_shift()
    # Twelve hours after they had it last.
    assert staff.username not in roster.on_this_shift(timezone.now() + timedelta(hours=12, minutes=1))


@pytest.mark.parametrize("hours", [0, 13])
def test_a_shift_has_its_hours(staff, manager, hours):
    with pytest.raises(roster.NotOnShift, match="1 to 12 hours") as refused:
        roster.put_on(manager, hours=hours, by=staff)
    assert refused.value.field == "hours"


def test_an_officer_says_of_nobody_that_they_are_on_shift(officer, staff, browser_of):
    with pytest.raises(roster.NotOnShift, match="Shift staff, a manager"):
        roster.put_on(staff, hours=8, by=officer)
    assert browser_of(officer).get("/on-shift/").status_code == 403


def test_who_is_not_on_shift_cannot_be_taken_off(staff, manager):
    with pytest.raises(roster.NotOnShift, match="is not on shift"):
        roster.take_off(manager, by=staff)


def test_on_the_page(staff, manager, browser_of):
    here = browser_of(staff)
    said = here.post("/on-shift/", {"name": manager.username, "hours": "8"}, follow=True).content.decode()
    assert f"{manager.shown_name} is on shift." in said
    assert manager.shown_name in here.get("/").content.decode()
    refused = here.post("/on-shift/", {"name": staff.username, "hours": "20"}).content.decode()
    assert "A shift lasts 1 to 12 hours, not 20." in refused
    blank = here.post("/on-shift/", {"name": staff.username, "hours": ""}).content.decode()
    assert "This is blank: fill it in." in blank
    said = here.post("/on-shift/", {"off": manager.username}, follow=True).content.decode()
    assert f"{manager.shown_name} is not on shift now." in said
    said = here.post("/on-shift/", {"off": "nobody-here"}, follow=True).content.decode()
    assert "Nobody signs on as nobody-here." in said
