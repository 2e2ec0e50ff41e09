"""People made, given roles, ended and brought back: by whom and why, and never so that nobody is left to do it."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import DatabaseError, transaction

from distillery.people import keeping
from distillery.people.changes import PersonChange
from distillery.people.keeping import Unchangeable
from distillery.people.models import Person

pytestmark = pytest.mark.django_db

PASSWORD = "a-copper-lantern-9"
NEW: dict[str, Any] = {
    "username": "f.ashby",
    "first_name": "Fern",
    "last_name": "Ashby",
    "roles": ["staff"],
    "password": PASSWORD,
    "reason": "writes on the day shift",
}


@pytest.fixture
def fern(manager: Person) -> Person:
    return keeping.add_person(**NEW, person=manager)


def test_a_person_is_made_with_roles_and_a_reason(fern: Person, manager: Person) -> None:
    assert fern.check_password(PASSWORD)
    change = PersonChange.objects.get(person=fern)
    assert (change.what, change.roles, change.reason, change.by) == ("made", "staff", NEW["reason"], manager)
    assert not fern.has_signed(), "that they were made is nothing they signed"


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"username": "F.Ashby"}, "username"),
        ({"username": "nightshift"}, "username"),
        ({"username": "a b"}, "username"),
        ({"username": "g.ashby", "roles": []}, "roles"),
        ({"username": "g.ashby", "roles": ["officer", "staff"]}, "roles"),
        ({"username": "g.ashby", "password": "short"}, "password"),
        ({"username": "g.ashby", "reason": " "}, "reason"),
    ],
)
def test_who_cannot_be_is_refused_by_the_box(
    fern: Person, manager: Person, changed: dict[str, Any], field: str
) -> None:
    before = Person.objects.count()
    with pytest.raises(Unchangeable) as refused:
        keeping.add_person(**NEW | changed, person=manager)
    assert refused.value.field == field
    assert Person.objects.count() == before


def test_staff_look_after_nobody(fern: Person, staff: Person) -> None:
    for act in (
        lambda: keeping.add_person(**NEW | {"username": "g.ashby"}, person=staff),
        lambda: keeping.give_roles(fern, ["manager"], reason="r", person=staff),
        lambda: keeping.end(fern, reason="r", person=staff),
        lambda: keeping.give_password(fern, password=PASSWORD, reason="r", person=staff),
    ):
        with pytest.raises(Unchangeable, match="A manager or an administrator"):
            act()
    assert keeping.roles_of(fern) == ("staff",)


def test_ended_and_brought_back_with_a_new_password(fern: Person, manager: Person, browser_of: Any) -> None:
    at_work = browser_of(fern)
    assert at_work.get("/").status_code == 200
    keeping.end(fern, reason="left the site", person=manager)
    assert at_work.get("/").status_code == 302, "the session is over"
    keeping.bring_back(fern, password="another-lantern-10", reason="came back", person=manager)
    assert at_work.get("/").status_code == 302, "and stays so"
    fern.refresh_from_db()
    assert fern.is_active
    assert fern.check_password("another-lantern-10")
    said = list(PersonChange.objects.filter(person=fern).values_list("what", "reason"))
    assert said == [("made", NEW["reason"]), ("ended", "left the site"), ("back", "came back")]


def test_nobody_ends_themselves_or_the_last_who_looks_after_people(manager: Person, administrator: Person) -> None:
    with pytest.raises(Unchangeable, match="Nobody ends themselves"):
        keeping.end(manager, reason="tired", person=manager)
    keeping.end(administrator, reason="left", person=manager)
    with pytest.raises(Unchangeable, match="is the last who may look after people"):
        keeping.give_roles(manager, ["staff"], reason="wants to distil", person=manager)
    assert keeping.roles_of(manager) == ("manager",)


def test_roles_held_already_are_no_change(fern: Person, manager: Person) -> None:
    with pytest.raises(Unchangeable, match="holds these roles already"):
        keeping.give_roles(fern, ["staff"], reason="r", person=manager)
    keeping.give_roles(fern, ["manager", "staff"], reason="leads the shift", person=manager)
    assert keeping.roles_of(fern) == ("staff", "manager")


def test_what_was_done_cannot_be_changed(fern: Person) -> None:
    with pytest.raises(DatabaseError), transaction.atomic():
        PersonChange.objects.update(reason="x")
