"""Somebody takes the triggers away and changes one value of any table a figure on paper depends on: the proof finds it.

Of the ledger alone tests/ledger/test_tampering.py does the same with every kind of entry. The month here is invented.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from datetime import date, datetime, timedelta
from typing import Any

import pytest
from django.apps import apps
from django.db import IntegrityError, connection, models, transaction

from batches.models import Contents, Mention, Reading, Record, Sending, Series, Version
from distillery.database.guards import remove
from distillery.people.models import Person
from distillery.rules.models import LossCause
from distillery.trail.checks import all_guards
from ledger.kept.models import KeptComparison, Uncompared
from ledger.models import Account, AccountMonth, Balance, Gauge, Hand, Head, Leg, StageMonth
from ledger.proof.proving import prove

pytestmark = pytest.mark.django_db

# On no paper: what finds a record again or tells that a form was sent before, the last number given, whose hand it is.
# A kept comparison that the program did not write is not read (tests/batches/test_kept_comparison.py).
NOT_ON_PAPER = (Mention, Sending, Series, Hand, KeptComparison, Uncompared)
ON_PAPER_OF_A_PERSON = ("username", "first_name", "last_name")
# Keys that only tell rows apart, and a note that no page uses.
ONLY_KEYS = {"ledger_head.id", "ledger_balance.last_leg"}
SUMS = (Balance, AccountMonth, StageMonth)


def columns() -> list[tuple[type[models.Model], models.Field[Any, Any]]]:
    """Every column that paper depends on, of every table that has a row, from the whole house."""
    found = []
    for label in ("people", "plant", "rules", "ledger", "batches"):
        for model in apps.get_app_config(label).get_models():
            if model in NOT_ON_PAPER or not model._base_manager.exists():
                continue
            for field in model._meta.concrete_fields:
                name = f"{model._meta.db_table}.{field.column}"
                if model is Person and field.name not in ON_PAPER_OF_A_PERSON:
                    continue
                if name not in ONLY_KEYS and not _only_tells_apart(model, field):
                    found.append((model, field))
    return found


def _only_tells_apart(model: type[models.Model], field: models.Field[Any, Any]) -> bool:
    return field.primary_key and isinstance(field, models.AutoField) and not _named_by_others(model)


def _named_by_others(model: type[models.Model]) -> bool:
    """Whether another row that is on paper finds this one by its key: then the key must hold too."""
    return model in (Record, Version, Leg) or model is apps.get_model("plant", "Vessel")


def changes(times: int, seed: int) -> Iterator[tuple[str, bool]]:
    """What was changed, and whether the proof found it; every change is taken back before the next."""
    dice = random.Random(seed)
    chosen = columns()
    dice.shuffle(chosen)
    done = turn = 0
    while done < times:
        model, field = chosen[turn % len(chosen)]
        turn += 1
        assert turn < times * 5
        mark = transaction.savepoint()
        change = _change(model, field, dice)
        if change:
            done += 1
            yield change, bool(prove().broken)
        transaction.savepoint_rollback(mark)


def _change(model: type[models.Model], field: models.Field[Any, Any], dice: random.Random) -> str:
    rows = list(model._base_manager.order_by("pk"))
    row = dice.choice(rows)
    if model in SUMS and not any(
        getattr(row, name, 0)
        for name in ("balance_ul", "mass_g", "pure_ul", "in_ul", "out_ul", "loss_ul", "difference_ul")
    ):
        return ""
    value = getattr(row, field.attname)
    other = _another(value, field, dice)
    table, key = model._meta.db_table, model._meta.pk.column
    prepared = field.get_db_prep_save(other, connection)
    quote = connection.ops.quote_name
    try:
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(f"UPDATE {table} SET {quote(field.column)} = %s WHERE {key} = %s", [prepared, row.pk])
    except IntegrityError:
        return ""
    return f"{table}.{field.column} of {row.pk}: {value!r} became {other!r}"


def _another(value: Any, field: models.Field[Any, Any], dice: random.Random) -> Any:
    """Another value of the same type."""
    if isinstance(field, models.ForeignKey):
        keys = [key for key in field.related_model._base_manager.values_list("pk", flat=True) if key != value]
        return dice.choice([*keys, None]) if field.null and value is not None else dice.choice(keys or [None])
    if isinstance(field, models.BooleanField):
        return not value
    if isinstance(field, models.DateTimeField):
        moment = value or datetime.fromisoformat("2027-03-01T00:00+00:00")
        return moment + timedelta(microseconds=dice.randint(1, 10**11))
    if isinstance(field, models.DateField):
        return (value or date(2027, 1, 1)) + timedelta(days=dice.choice([-1, 1, 31]))
    if isinstance(field, models.CharField | models.TextField):
        if field.choices:
            return dice.choice([key for key, _ in field.choices if key != value])
        if not value:
            return "x"
        at = dice.randrange(len(value))
        letter = dice.choice([one for one in "0123456789abcdef -" if one != value[at]])
        return value[:at] + letter + value[at + 1 :]
    return (value or 0) + dice.choice([-1, 1, dice.randint(2, 99_999)])


def unseen(times: int, seed: int) -> list[str]:
    remove(connection, all_guards(connection))
    return [change for change, found in changes(times, seed) if not found]


def test_no_single_changed_value_of_any_table_goes_unseen(small_books: None) -> None:
    assert unseen(150, seed=20270304) == []
    assert prove().broken == []


def test_contents_moved_to_an_account_that_never_moved_are_missed_where_they_were(small_books: None) -> None:
    remove(connection, all_guards(connection))
    idle = Account.objects.filter(legs__isnull=True, kind="vessel").first()
    assert idle is not None
    only = Contents.objects.exclude(account__links__isnull=False).first()
    assert only is not None
    Contents.objects.filter(account=only.account).update(account=idle)
    broken = prove().broken
    assert any(only.account.code in place for place in broken)


@pytest.mark.slow
def test_no_single_changed_value_of_any_table_goes_unseen_at_length(small_books: None) -> None:
    assert unseen(1000, seed=20270305) == []


def test_a_row_taken_away_is_missed(small_books: None) -> None:
    """One row of each table, and of the newest versions and readings every one."""
    remove(connection, all_guards(connection))
    tables = sorted({model for model, _ in columns()}, key=lambda model: model._meta.db_table)
    for model in tables:
        if model in SUMS or model is Head:
            continue
        keys = list(model._base_manager.order_by("-pk").values_list("pk", flat=True)[: 20 if model is Reading else 1])
        for key in keys:
            mark = transaction.savepoint()
            with connection.cursor() as cursor:
                cursor.execute(f"DELETE FROM {model._meta.db_table} WHERE {model._meta.pk.column} = %s", [key])
            assert prove().broken, f"{model.__name__} {key}"
            transaction.savepoint_rollback(mark)


def test_a_row_put_in_behind_the_trails_back_is_found(small_books: None) -> None:
    remove(connection, all_guards(connection))
    LossCause.objects.create(name="angels", from_day=date(2027, 1, 1), source="nobody")
    assert any("rules_losscause" in place for place in prove().broken)


def test_gauges_that_paper_shows_are_among_what_is_changed(small_books: None) -> None:
    names = {f"{model._meta.db_table}.{field.column}" for model, field in columns()}
    assert {
        "batches_reading.value",
        "batches_version.notes",
        "batches_version.digest",
        "batches_link.pure_ul",
        "plant_calibrationpoint.volume_ul",
        "plant_instrument.standard_uncertainty_millionths",
        "rules_reviewthreshold.threshold_millionths",
        "rules_dutyrate.pence_hundredths_per_lpa",
        "people_person.first_name",
        "ledger_closing.digest",
        "ledger_closingbalance.pure_ul",
    } <= names
    assert Gauge.objects.exists()
