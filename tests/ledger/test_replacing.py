"""No row takes the place of another behind the triggers: not by REPLACE on SQLite, nor ON CONFLICT on PostgreSQL.

SQLite's REPLACE removes the row in its way without firing the triggers on delete: sqlite.org/lang_conflict.html.
"""

from __future__ import annotations

import pytest
from django.db import DatabaseError, connection, transaction

from batches.guards import FACTS as RECORDS
from distillery.database.guards import remove
from distillery.plant.guards import FACTS as PLANT
from distillery.plant.models import Vessel
from distillery.trail.checks import all_guards
from distillery.trail.kept import kept_tables
from distillery.trail.models import Entry
from ledger.guards import FACTS, SUMS
from ledger.models import Head
from ledger.proof.proving import prove

pytestmark = pytest.mark.django_db

SQLITE = connection.vendor == "sqlite"
ONLY_ADDED = (*FACTS, *RECORDS, *PLANT, "trail_entry")


@pytest.fixture
def site(small_books: None) -> None:
    """The month that stands in the database."""


def tell(sql: str) -> None:
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(sql)


@pytest.fixture
def no_other_guard(site: None) -> None:
    """Only the guards that have to refuse this stand, so that no other refuses in their stead."""
    own = ("_no_replace", "_no_taking_place") if SQLITE else ("_no_update",)
    remove(connection, [guard for guard in all_guards(connection) if not guard.name.endswith(own)])


def columns(table: str) -> list[str]:
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT * FROM {table} LIMIT 0")
        return [f'"{one[0]}"' for one in cursor.description]


def key_of(table: str) -> str:
    with connection.cursor() as cursor:
        key = connection.introspection.get_primary_key_column(cursor, table)
    assert key is not None
    return f'"{key}"'


def in_place(table: str) -> str:
    """The statement that puts a row in its own place again."""
    key, names = key_of(table), ", ".join(columns(table))
    row = f"SELECT {names} FROM {table} WHERE {key} = (SELECT MIN({key}) FROM {table})"
    if SQLITE:
        return f"INSERT OR REPLACE INTO {table} ({names}) {row}"
    return f"INSERT INTO {table} ({names}) {row} ON CONFLICT ({key}) DO UPDATE SET {key} = EXCLUDED.{key}"


def filled(table: str) -> bool:
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT COUNT(*) FROM {table}")
        return bool(cursor.fetchone()[0])


def test_no_fact_is_put_in_its_own_place_again(no_other_guard: None) -> None:
    tried = [table for table in ONLY_ADDED if filled(table)]
    assert len(tried) > 15
    for table in tried:
        with pytest.raises(DatabaseError, match="in the place of another" if SQLITE else "keeps what was written"):
            tell(in_place(table))


@pytest.mark.parametrize("table", SUMS)
def test_no_sum_is_put_in_its_own_place_again(site: None, table: str) -> None:
    with pytest.raises(DatabaseError, match="added up from the legs"):
        tell(in_place(table))


@pytest.mark.sqlite
@pytest.mark.parametrize(
    ("table", "change"),
    [
        ("ledger_movement", {"id": "9999"}),  # the seal is there already
        ("ledger_leg", {"id": "9999"}),  # its movement has such a line
        ("ledger_closing", {"number": "2"}),
        ("batches_version", {"id": "9999"}),
        ("batches_record", {"id": "9999"}),
        ("batches_posted", {"id": "9999"}),
        ("plant_vessel", {"id": "9999"}),  # the code is there already
        ("rules_losscause", {"id": "9999"}),
        ("people_person", {"id": "9999"}),
        ("people_person_groups", {"id": "9999"}),
    ],
)
def test_a_row_with_another_key_takes_no_place_by_what_may_stand_once(
    no_other_guard: None, table: str, change: dict[str, str]
) -> None:
    names = columns(table)
    chosen = [change.get(name.strip('"'), name) for name in names]
    with pytest.raises(DatabaseError, match="in the place of another"):
        tell(
            f"INSERT OR REPLACE INTO {table} ({', '.join(names)}) SELECT {', '.join(chosen)} FROM {table} "
            f"ORDER BY {key_of(table)} LIMIT 1"
        )


@pytest.mark.sqlite
def test_a_row_is_not_changed_into_the_place_of_another(no_other_guard: None) -> None:
    first, second = Vessel.objects.order_by("pk")[:2]
    with pytest.raises(DatabaseError, match="in the place of another"):
        tell(f"UPDATE OR REPLACE plant_vessel SET code = '{first.code}' WHERE id = {second.pk}")
    with pytest.raises(DatabaseError, match="in the place of another"):
        tell("UPDATE OR REPLACE batches_record SET id = 1 WHERE id = 2")


def test_identities_may_be_blank_on_many_records(site: None) -> None:
    """The guard knows the condition of what may stand once: blank identities are none."""
    tell("UPDATE batches_record SET identity = ''")
    assert any("what tells it from others" in place for place in prove().broken)


def test_the_end_of_the_chain_moves_with_the_chain_alone(site: None) -> None:
    head = Head.objects.get()
    other = "f" * 64
    for sql in (
        "UPDATE ledger_head SET last_number = last_number + 1",
        "UPDATE ledger_head SET last_number = last_number - 1",
        f"UPDATE ledger_head SET last_seal = '{other}'",
        "DELETE FROM ledger_head",
        in_place("ledger_head") if SQLITE else "DELETE FROM ledger_head WHERE id = 1",
    ):
        with pytest.raises(DatabaseError, match="ledger_head"):
            tell(sql)
    assert Head.objects.get().last_seal == head.last_seal


def test_a_head_that_is_gone_is_a_broken_place_and_no_end_of_the_proof(site: None) -> None:
    remove(connection, all_guards(connection))
    tell("DELETE FROM ledger_head")
    assert "the end of the chain is noted nowhere" in prove().broken


# On SQLite the row that is inserted is refused before it conflicts with anything.
@pytest.mark.postgresql
def test_what_on_conflict_changes_is_in_the_trail(site: None) -> None:
    before = Entry.objects.filter(table="plant_vessel").count()
    tell(
        "INSERT INTO plant_vessel (id, code, name, kind, stage, purpose, \"order\") SELECT id, code, 'Another', kind, "
        'stage, purpose, "order" FROM plant_vessel ORDER BY id LIMIT 1 '
        "ON CONFLICT (id) DO UPDATE SET name = EXCLUDED.name"
    )
    assert Entry.objects.filter(table="plant_vessel").count() == before + 1
    unsealed, told = prove().broken
    assert "stand under no seal" in unsealed
    assert told.startswith("plant_vessel")
    assert "past the program" in told


@pytest.mark.sqlite
def test_no_row_with_a_trail_is_put_in_its_own_place_again(no_other_guard: None) -> None:
    for kept in kept_tables(connection):
        if filled(kept.table):
            with pytest.raises(DatabaseError, match="in the place of another"):
                tell(in_place(kept.table))
