"""What was written on a record stays written: the database refuses to change or remove it, and says so if it cannot."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.core.management import call_command
from django.db import DatabaseError, connection, transaction

from batches.audit.checks import triggers_stand
from batches.guards import batches_guards
from batches.models import Posted, Reading, Record, Version
from batches.records.recording import add_reading
from distillery.database.guards import install, remove
from distillery.people.models import Person

from .test_recording_records import charged  # noqa: F401


@pytest.fixture
def written(charged: Record, staff: Person) -> Record:  # noqa: F811
    add_reading(charged, "2027-03-05T09:00", "celsius", "17", staff)
    return charged


@pytest.mark.parametrize("model", [Version, Reading, Posted])
def test_facts_are_neither_changed_nor_removed(written: Record, model: type[Version]) -> None:
    rows = model._default_manager.filter(record=written)
    assert rows.exists()
    with pytest.raises(DatabaseError, match="keeps what was written"), transaction.atomic():
        rows.update(record=written)
    with pytest.raises(DatabaseError, match="keeps what was written"), transaction.atomic():
        rows._raw_delete(connection.alias)


def test_a_number_is_neither_changed_nor_removed(written: Record) -> None:
    with pytest.raises(DatabaseError, match="keeps its kind and number"), transaction.atomic():
        Record.objects.filter(pk=written.pk).update(number="SR9999")
    with pytest.raises(DatabaseError, match="keeps every number"), transaction.atomic():
        Record.objects.filter(pk=written.pk)._raw_delete(connection.alias)


def test_a_missing_trigger_is_an_error_of_the_site(db: None) -> None:
    guards = batches_guards(connection)
    assert triggers_stand(databases=["default"]) == []
    remove(connection, guards[:1])
    [error] = triggers_stand(databases=["default"])
    assert error.id == "batches.E001"
    assert guards[0].name in str(error)
    install(connection, guards)
    assert triggers_stand(databases=["default"]) == []


def test_the_tables_are_as_the_models_say(db: None, capsys: pytest.CaptureFixture[str]) -> None:
    call_command("makemigrations", "batches", "--check", "--dry-run", verbosity=0)


def test_every_guard_is_there_on_a_fresh_database(db: None, opened: Callable[..., Record]) -> None:
    with connection.cursor() as cursor:
        tables = set(connection.introspection.table_names(cursor))
    assert {guard.table for guard in batches_guards(connection)} <= tables
