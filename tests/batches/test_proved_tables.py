"""Every table of the database is in the list of what is proved, and is proved in the way that the list says."""

from __future__ import annotations

import pytest
from django.apps import apps
from django.db import connection
from django.db.migrations.recorder import MigrationRecorder

from batches.audit.proved_tables import TABLES, Proved
from distillery.trail.guards import TABLE
from distillery.trail.kept import kept_tables
from ledger.guards import FACTS, SUMS
from ledger.proof.sealed_columns import PARTS
from ledger.proof.unguarded import HAND

pytestmark = pytest.mark.django_db


def proved(how: Proved) -> set[str]:
    return {table for table, ways in TABLES.items() if how in ways}


def test_every_model_of_every_app_has_its_line() -> None:
    models = {model._meta.db_table for model in apps.get_models(include_auto_created=True)}
    models.add(MigrationRecorder.Migration._meta.db_table)
    assert models - TABLES.keys() == set(), "add the new table to batches/audit/proved_tables.py and prove it"
    assert TABLES.keys() - models == set()


def test_every_table_of_the_database_has_its_line() -> None:
    assert set(connection.introspection.table_names()) - TABLES.keys() == set()


def test_what_is_held_against_a_trail_has_one() -> None:
    kept = {one.table for one in kept_tables(connection)}
    assert proved(Proved.TRAIL) - {TABLE} == kept


def test_what_is_added_up_and_what_is_sealed_is_guarded_as_such() -> None:
    assert proved(Proved.SUM) == set(SUMS)
    assert {HAND} == proved(Proved.EMPTY)
    parts = {part.model._meta.db_table for part in PARTS}
    sealed = {table for table in proved(Proved.SEALED) if table.startswith("ledger_")}
    assert parts <= sealed <= set(FACTS)


def test_a_trail_holds_every_column_where_nothing_else_does() -> None:
    """A person's password and the like are on no page; of what is sealed too, its digest is enough."""
    for one in kept_tables(connection):
        if TABLES[one.table] != (Proved.TRAIL,) or one.table == "people_person":
            continue
        with connection.cursor() as cursor:
            cursor.execute(f"SELECT * FROM {one.table} LIMIT 0")
            assert tuple(column[0] for column in cursor.description) == one.columns, one.table
