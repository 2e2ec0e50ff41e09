"""The trail keeps each row of the site's data as it was written, whoever writes it. Names and figures are invented."""

from __future__ import annotations

import json
from datetime import date

import pytest
from django.db import DatabaseError, connection, transaction

from distillery.database.guards import remove
from distillery.people.models import NameIsSigned, Person
from distillery.plant.models import Kind, Stage, Vessel
from distillery.rules.models import LossCause
from distillery.trail.checks import site_guards, triggers_stand
from distillery.trail.models import Act, Entry
from distillery.trail.proving import apart
from ledger.posting.post import post
from tests.ledger import plant

pytestmark = pytest.mark.django_db


def entries(table: str, row: int) -> list[Entry]:
    return list(Entry.objects.filter(table=table, row=str(row)).order_by("pk"))


def test_each_writing_of_a_row_leaves_an_entry_with_all_it_says() -> None:
    vessel = Vessel.objects.create(code="VAT", name="Vat", kind=Kind.VAT, stage=Stage.NEW_SPIRIT)
    Vessel.objects.filter(pk=vessel.pk).update(name="Large vat")
    written = [json.loads(one.content) for one in entries("plant_vessel", vessel.pk)]
    assert [one["name"] for one in written] == ["Vat", "Large vat"]
    assert written[-1]["code"] == "VAT"
    assert set(written[-1]) == {field.column for field in Vessel._meta.concrete_fields}
    key = vessel.pk
    vessel.delete()
    assert [one.act for one in entries("plant_vessel", key)] == [Act.WRITTEN, Act.WRITTEN, Act.REMOVED]
    assert list(apart(connection)) == []


def test_rows_written_together_leave_their_entries_too() -> None:
    made = LossCause.objects.bulk_create(
        LossCause(name=name, from_day=date(2027, 1, 1), source="invented") for name in ("leak", "theft")
    )
    assert all(len(entries("rules_losscause", one.pk)) == 1 for one in made)


def test_what_migrations_put_in_is_in_the_trail() -> None:
    causes = set(LossCause.objects.values_list("pk", flat=True))
    assert causes
    assert {int(row) for row in Entry.objects.filter(table="rules_losscause").values_list("row", flat=True)} >= causes


def test_signing_on_leaves_no_entry_and_no_password_is_kept(person_of) -> None:
    person = person_of("morag", "staff")
    before = len(entries("people_person", person.pk))
    person.last_login = plant.START
    person.save()
    person.set_password("another")
    person.save()
    kept = entries("people_person", person.pk)
    assert len(kept) == before
    # Whether somebody may sign on stands on the page of the site; nothing of how they do.
    assert set(json.loads(kept[-1].content)) == {"id", "username", "first_name", "last_name", "is_active"}


def test_the_trail_itself_is_neither_changed_nor_removed() -> None:
    entry = Entry.objects.order_by("pk").first()
    assert entry is not None
    with pytest.raises(DatabaseError, match="keeps what was written"), transaction.atomic():
        Entry.objects.filter(pk=entry.pk).update(content="{}")
    with pytest.raises(DatabaseError, match="keeps what was written"), transaction.atomic():
        Entry.objects.filter(pk=entry.pk).delete()


def test_a_change_without_the_trigger_stands_apart() -> None:
    vessel = plant.vessel("VAT")
    remove(connection, site_guards(connection))
    Vessel.objects.filter(pk=vessel.pk).update(capacity_ul=1)
    assert [(one.table, one.row) for one in apart(connection)] == [("plant_vessel", str(vessel.pk))]


def test_a_missing_trigger_is_an_error_of_the_site() -> None:
    assert triggers_stand(databases=["default"]) == []
    guards = site_guards(connection)
    remove(connection, guards[-1:])
    [error] = triggers_stand(databases=["default"])
    assert (error.id, guards[-1].name in error.msg) == ("trail.E001", True)


class TestASignOnName:
    """It stands in the seals, so nobody who has signed may get another."""

    def test_is_changed_while_nothing_is_signed(self, person_of) -> None:
        person = person_of("moarg", "staff")
        person.username = "morag"
        person.save()
        assert Person.objects.get(pk=person.pk).username == "morag"

    def test_stays_once_something_is_signed(self, staff: Person) -> None:
        post(plant.opening(plant.vessel("VAT"), 10), person=staff)
        staff.username = "another"
        with pytest.raises(NameIsSigned, match="the books are sealed over that name"):
            staff.save()
        with pytest.raises(DatabaseError, match="keeps the sign-on name"), transaction.atomic():
            Person.objects.filter(pk=staff.pk).update(username="another")

    def test_stays_of_a_second_person_too(self, staff: Person, manager: Person) -> None:
        post(plant.opening(plant.vessel("VAT"), 10), person=staff, second=manager)
        with pytest.raises(DatabaseError, match="keeps the sign-on name"), transaction.atomic():
            Person.objects.filter(pk=manager.pk).update(username="another")

    def test_leaves_the_name_that_is_shown_free(self, staff: Person) -> None:
        post(plant.opening(plant.vessel("VAT"), 10), person=staff)
        staff.first_name, staff.last_name = "Ishbel", "Rae"
        staff.save()
        assert Person.objects.get(pk=staff.pk).shown_name == "Ishbel Rae"
