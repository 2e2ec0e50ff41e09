"""One change by plain SQL, of any table that a page reads: it is refused, or the proof finds it, or the trail tells it.

With the triggers away: values changed, rows taken away, rows put in the place of others (REPLACE on SQLite, ON CONFLICT
on PostgreSQL), rows put in twice. With the triggers standing: the same, and whatever they let pass must be proved wrong
or stand in the trail to be read. The month is invented.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import pytest
from django.apps import apps
from django.db import DatabaseError, connection, models, transaction

from batches.audit.proved_tables import TABLES, Proved
from distillery.database.guards import remove
from distillery.seals.lookup import last_seal
from distillery.trail.checks import all_guards
from distillery.trail.models import Entry
from ledger.proof.noted import look_for
from ledger.proof.proving import prove

from .test_tampering_with_records import ONLY_KEYS, SUMS, _another

pytestmark = pytest.mark.django_db

SQLITE = connection.vendor == "sqlite"
# Of a person only what stands on a page; of the trail, what it says is proved by the rows it is about.
OF_A_PERSON = {"username", "first_name", "last_name", "is_active"}
# The last number given may lie ahead of what is written, by a record that came to nothing.
AHEAD = {"batches_series.last"}
# What a link between two tables of the framework says is one unit: its own key is nothing.
KEYS_THAT_MATTER = {"batches_record", "batches_version", "ledger_leg", "plant_vessel", "people_person"}


@dataclass(frozen=True)
class Attack:
    """One statement, and in words what it does."""

    said: str
    sql: str
    values: list[Any]


def found(noted: str) -> bool:
    """Whether anything gives the change away, a seal of the books that was noted elsewhere before it among them."""
    return bool(prove().broken) or not look_for(noted).stands


def told() -> int:
    """How many entries the trail has: one more means that the change can be read there."""
    return Entry.objects.count()


def read_by_pages() -> list[type[models.Model]]:
    """The tables that hold a fact and have a row."""
    left_out = {Proved.NO_FACT, Proved.EMPTY, Proved.DERIVED}
    wanted = {table for table, ways in TABLES.items() if not left_out & set(ways)} - {"trail_entry"}
    every = apps.get_models(include_auto_created=True)
    return [one for one in every if one._meta.db_table in wanted and one._base_manager.exists()]


def _fields(model: type[models.Model]) -> list[models.Field[Any, Any]]:
    table = model._meta.db_table
    chosen = []
    for field in model._meta.concrete_fields:
        name = f"{table}.{field.column}"
        if name in ONLY_KEYS | AHEAD or (table == "people_person" and field.name not in OF_A_PERSON):
            continue
        if field.primary_key and isinstance(field, models.AutoField) and table not in KEYS_THAT_MATTER:
            continue
        chosen.append(field)
    return chosen


def _a_row(model: type[models.Model], dice: random.Random) -> models.Model | None:
    rows = list(model._base_manager.order_by("pk"))
    if model in SUMS:
        sums = ("balance_ul", "mass_g", "pure_ul", "in_ul", "out_ul", "loss_ul", "difference_ul")
        rows = [row for row in rows if any(getattr(row, name, 0) for name in sums)]
    return dice.choice(rows) if rows else None


def _changed(model: type[models.Model], dice: random.Random) -> Attack | None:
    fields, row = _fields(model), _a_row(model, dice)
    if not fields or row is None:
        return None
    field = dice.choice(fields)
    other = _another(getattr(row, field.attname), field, dice)
    table, quote = model._meta.db_table, connection.ops.quote_name
    sql = f"UPDATE {table} SET {quote(str(field.column))} = %s WHERE {quote(str(model._meta.pk.column))} = %s"
    said = f"{table}.{field.column} of {row.pk} became {other!r}"
    return Attack(said, sql, [field.get_db_prep_save(other, connection), row.pk])


def _taken_away(model: type[models.Model], dice: random.Random) -> Attack | None:
    row = _a_row(model, dice)
    if row is None:
        return None
    table = model._meta.db_table
    sql = f"DELETE FROM {table} WHERE {model._meta.pk.column} = %s"
    return Attack(f"{table} {row.pk} was taken away", sql, [row.pk])


def _replaced(model: type[models.Model], dice: random.Random) -> Attack | None:
    """A row in the place of another, with one value that is not what it was."""
    fields, row = [one for one in _fields(model) if not one.primary_key], _a_row(model, dice)
    if not fields or row is None:
        return None
    field = dice.choice(fields)
    other = _another(getattr(row, field.attname), field, dice)
    table, quote, key = model._meta.db_table, connection.ops.quote_name, str(model._meta.pk.column)
    columns = [str(one.column) for one in model._meta.concrete_fields]
    names = ", ".join(map(quote, columns))
    chosen = ", ".join("%s" if one == field.column else quote(one) for one in columns)
    if not SQLITE:
        chosen = ", ".join(
            f"CAST(%s AS {field.db_type(connection)})" if one == field.column else quote(one) for one in columns
        )
    into = f"INTO {table} ({names}) SELECT {chosen} FROM {table} WHERE {quote(key)} = %s"
    on = "" if SQLITE else f" ON CONFLICT ({quote(key)}) DO UPDATE SET {quote(str(field.column))} = EXCLUDED."
    sql = f"INSERT OR REPLACE {into}" if SQLITE else f"INSERT {into}{on}{quote(str(field.column))}"
    said = f"{table} {row.pk} was replaced, {field.column} {other!r}"
    return Attack(said, sql, [field.get_db_prep_save(other, connection), row.pk])


def _put_in_twice(model: type[models.Model], dice: random.Random) -> Attack | None:
    """The same row once more under another key, where its key is nothing but a number."""
    row = _a_row(model, dice)
    if row is None or not isinstance(model._meta.pk, models.AutoField):
        return None
    table, quote, key = model._meta.db_table, connection.ops.quote_name, str(model._meta.pk.column)
    rest = ", ".join(quote(str(one.column)) for one in model._meta.concrete_fields if not one.primary_key)
    sql = f"INSERT INTO {table} ({quote(key)}, {rest}) SELECT 99999, {rest} FROM {table} WHERE {quote(key)} = %s"
    return Attack(f"{table} {row.pk} was put in twice", sql, [row.pk])


WAYS: tuple[Callable[[type[models.Model], random.Random], Attack | None], ...] = (
    _changed,
    _replaced,
    _changed,
    _taken_away,
    _put_in_twice,
)


def attacks(times: int, seed: int, given_away: Callable[[], bool]) -> Iterator[tuple[str, bool]]:
    """What was done and whether it was given away, table after table; each is taken back before the next."""
    dice = random.Random(seed)
    tables = read_by_pages()
    assert len(tables) > 35
    done = turn = 0
    while done < times:
        if turn % len(tables) == 0:
            dice.shuffle(tables)
        model, way = tables[turn % len(tables)], WAYS[dice.randrange(len(WAYS))]
        turn += 1
        assert turn < times * 6
        attack = way(model, dice)
        if attack is None:
            continue
        mark = transaction.savepoint()
        try:
            with transaction.atomic(), connection.cursor() as cursor:
                cursor.execute(attack.sql, attack.values)
        except DatabaseError:
            # Refused, by a trigger or by what the table itself does not take.
            transaction.savepoint_rollback(mark)
            continue
        done += 1
        yield attack.said, given_away()
        transaction.savepoint_rollback(mark)


def _unseen_without_triggers(times: int, seed: int) -> list[str]:
    noted = _noted()
    remove(connection, all_guards(connection))
    return [said for said, seen in attacks(times, seed, lambda: found(noted)) if not seen]


def _unseen_with_triggers(times: int, seed: int) -> list[str]:
    before, noted = told(), _noted()
    return [said for said, seen in attacks(times, seed, lambda: told() > before or found(noted)) if not seen]


def _noted() -> str:
    """The last seal of the books, as somebody noted it before anything was changed."""
    books_seal = last_seal()
    assert books_seal is not None
    return books_seal.seal


@pytest.mark.long
def test_nothing_done_to_any_table_goes_unseen(small_books: None) -> None:
    assert _unseen_without_triggers(150, seed=20270311) == []
    assert prove().broken == []


def test_nothing_the_triggers_let_pass_goes_untold(small_books: None) -> None:
    assert _unseen_with_triggers(100, seed=20270312) == []
    assert prove().holds


@pytest.mark.slow
def test_nothing_done_to_any_table_goes_unseen_at_length(small_books: None) -> None:
    assert _unseen_without_triggers(1000, seed=20270313) == []


@pytest.mark.slow
def test_nothing_the_triggers_let_pass_goes_untold_at_length(small_books: None) -> None:
    assert _unseen_with_triggers(1000, seed=20270314) == []
