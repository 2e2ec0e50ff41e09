"""Somebody takes the triggers away and changes one value of the database by hand: the proof finds it, whatever it is.

The figures of the small ledger are invented.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import IntegrityError, connection, models, transaction

from distillery.database.guards import remove
from distillery.people.models import Person
from distillery.plant.models import Kind, Stage
from distillery.trail.checks import all_guards
from ledger.models import (
    Account,
    AccountMonth,
    Balance,
    Duty,
    Gauge,
    Head,
    Leg,
    MeasuredFlow,
    Movement,
    MovementKind,
    RunningBalance,
    StageMonth,
)
from ledger.posting.accounts import bottled_account, removal, water
from ledger.posting.drafts import Draft, DutyDue
from ledger.posting.post import correct, post
from ledger.proof.proving import prove
from tests.people import somebody

from . import plant

pytestmark = pytest.mark.django_db

TABLES = (Account, Movement, Leg, Gauge, MeasuredFlow, Duty, Balance, RunningBalance, AccountMonth, StageMonth, Head)
# No figure on paper reads these: keys that only tell rows apart, and a note that no page uses.
NOT_ON_PAPER = {
    (Gauge, "id"),
    (MeasuredFlow, "id"),
    (Duty, "id"),
    (AccountMonth, "id"),
    (StageMonth, "id"),
    (Head, "id"),
    (Balance, "last_leg"),
}
SUMMED = ("balance_ul", "mass_g", "pure_ul", "in_ul", "out_ul", "loss_ul", "difference_ul")
OF_AN_ACCOUNT = ("kind", "name", "stage", "floor_zero", "bottle_pure_ul", "vessel")


def _month(person: Person) -> None:
    still = plant.vessel_account(plant.vessel("STILL", kind=Kind.STILL, stage=Stage.LOW_WINES))
    charge, receiver, vat = plant.vessel("CHARGE", stage=Stage.LOW_WINES), plant.vessel("RECEIVER"), plant.vessel("VAT")
    wood = plant.vessel_account(plant.vessel("2027/0001", kind=Kind.CASK, stage=Stage.MATURING))
    in_vat = plant.vessel_account(vat)
    bottles = bottled_account("gin", Decimal(70), Decimal(40), 280_000)

    def run(after: float) -> list[Draft]:
        return [
            plant.draft(
                "spirit run",
                "7",
                0,
                plant.found(charge, 1240),
                plant.left(charge, 0, still),
                plant.found(receiver, 400.3),
                moment="charge",
            ),
            plant.draft(
                "spirit run",
                "7",
                6,
                plant.left(receiver, after, still),
                plant.Moved(still, plant.loss("spent lees"), plant.quantity(1.2)),
                plant.Emptied(still, plant.difference("spirit run")),
            ),
        ]

    def sold(count: int, number: str) -> Draft:
        lines = (plant.Moved(bottles, removal("home use"), plant.quantity(count * 0.28)),)
        due = DutyDue(
            "home use",
            "441",
            Decimal(count) * Decimal("0.7"),
            Decimal(40),
            Decimal(count) * Decimal("0.28"),
            323_200,
            count * 905,
            "rate of the test",
        )
        return Draft("removal", "removal", plant.at(500), "removal", number, "leaves", lines, (due,))

    post(plant.opening(charge, 1240), person=person)
    post(plant.opening(receiver, 400), person=person, second=somebody("second"))
    written = [post(draft, person=person) for draft in run(1000)]
    apart = plant.difference("transfer")
    post(
        plant.draft(
            "transfer",
            "5",
            30,
            plant.found(receiver, 1194.8),
            plant.found(vat, 0),
            plant.left(receiver, 0, apart),
            plant.left(vat, 1193.5, apart),
        ),
        person=person,
    )
    correct(written, run(1195), person=person, reason="dip written 100 mm short")
    post(
        plant.draft(
            "reduction",
            "3",
            40,
            plant.found(vat, 1193.4),
            plant.Moved(water(), in_vat, plant.quantity(0, 80)),
            plant.left(vat, 1193.1, plant.difference("reduction")),
        ),
        person=person,
    )
    post(
        plant.draft(
            "cask fill",
            "4",
            50,
            plant.found(vat, 1193),
            plant.Moved(in_vat, wood, plant.quantity(126.4), measured=plant.weighed("cask")),
            plant.left(vat, 1066, plant.difference("cask fill")),
        ),
        person=person,
    )
    post(
        plant.draft(
            "bottling",
            "2",
            480,
            plant.found(vat, 1065),
            plant.Moved(in_vat, bottles, plant.quantity(280)),
            plant.left(vat, 784, plant.difference("bottling")),
        ),
        person=person,
    )
    removed = [post(sold(200, "11"), person=person), post(sold(100, "12"), person=person)]
    correct(removed[1:], [sold(110, "12")], person=person, reason="miscounted")
    post(plant.draft("stock take", "6", 20, plant.found(receiver, 1194.9)), person=person)
    spilt = plant.Moved(plant.difference("spirit run"), plant.loss("spillage"), plant.quantity(3.5))
    told = plant.draft("spirit run", "7", 500, spilt, moment="explained")
    post(told, person=person, second=Person.objects.get(username="second"), kind=MovementKind.EXPLANATION)


def small_ledger() -> Person:
    """Every kind of entry, two months, a correction, a restatement, a late entry, duty. It proves."""
    person = somebody("ishbel")
    _month(person)
    assert {movement.kind for movement in Movement.objects.all()} == set(MovementKind.values)
    assert prove().broken == []
    return person


def unguarded() -> None:
    remove(connection, all_guards(connection))


def _another(value: Any, field: models.Field[Any, Any], dice: random.Random) -> Any:
    """Another value of the same type: what a hand with access to the file could write."""
    if isinstance(field, models.ForeignKey):
        keys = [key for key in field.related_model.objects.values_list("pk", flat=True) if key != value]
        return dice.choice([*keys, None]) if field.null and value is not None else dice.choice(keys)
    if isinstance(field, models.BooleanField):
        return not value
    if isinstance(field, models.DateTimeField):
        apart = dice.choice([1, 1_000_000, -3_600_000_000, 86_400_000_000])
        return (value or plant.START) + timedelta(microseconds=apart)
    if isinstance(field, models.CharField | models.TextField):
        return _other_text(value, field, dice)
    return (value or 0) + dice.choice([-1, 1, dice.randint(2, 9_999_999), -dice.randint(2, 9_999_999)])


def _other_text(value: str, field: models.Field[Any, Any], dice: random.Random) -> str:
    if field.choices:
        return str(dice.choice([key for key, _ in field.choices if key != value]))
    if not value:
        return "x"
    at = dice.randrange(len(value))
    letter = dice.choice([c for c in "0123456789abcdef -" if c != value[at]])
    return value[:at] + letter + value[at + 1 :]


def _columns() -> list[tuple[type[models.Model], models.Field[Any, Any]]]:
    return [
        (model, field)
        for model in TABLES
        for field in model._meta.concrete_fields
        if (model, field.name) not in NOT_ON_PAPER
    ]


def _changed(model: type[models.Model], field: models.Field[Any, Any], dice: random.Random) -> str | None:
    """Changes one value by hand and says what it was; None where the database itself refuses such a row."""
    keys = list(model.objects.order_by("pk").values_list("pk", flat=True))  # type: ignore[attr-defined]
    key = dice.choice([key for key in keys if not _says_nothing(model, key)])
    value = model.objects.values_list(field.attname, flat=True).get(pk=key)  # type: ignore[attr-defined]
    other = _another(value, field, dice)
    table, primary = model._meta.db_table, model._meta.pk.column
    prepared = field.get_db_prep_save(other, connection)
    try:
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(f"UPDATE {table} SET {field.column} = %s WHERE {primary} = %s", [prepared, key])
    except IntegrityError:
        return None
    return f"{table}.{field.column} of {key}: {value!r} became {other!r}"


def change_and_prove(times: int, seed: int) -> Iterator[tuple[str, bool]]:
    """What was changed, and whether the proof found it; every change is taken back before the next."""
    dice = random.Random(seed)
    done = 0
    columns = _columns()
    while done < times:
        # Every column in turn, then in turn again: no column waits for luck.
        model, field = columns[done % len(columns)]
        mark = transaction.savepoint()
        change = _changed(model, field, dice)
        if change is not None:
            done += 1
            yield change, bool(prove().broken)
        elif dice.random() < 0.05:
            done += 1
        transaction.savepoint_rollback(mark)


def _unseen(times: int, seed: int) -> list[str]:
    small_ledger()
    unguarded()
    return [change for change, found in change_and_prove(times, seed) if not found]


def test_no_single_changed_value_goes_unseen() -> None:
    assert _unseen(150, seed=20270301) == []
    assert prove().broken == []


@pytest.mark.slow
def test_no_single_changed_value_goes_unseen_at_length() -> None:
    assert _unseen(1000, seed=20270302) == []


@pytest.mark.parametrize("name", OF_AN_ACCOUNT)
def test_what_an_account_is_cannot_be_changed_unseen(name: str) -> None:
    """Name, kind and stage are on every statement; the floor and the bottle's size decide what may be drawn."""
    small_ledger()
    unguarded()
    field = Account._meta.get_field(name)
    dice = random.Random(20270303)
    used = Leg.objects.values("account")
    unseen = []
    for account in Account.objects.filter(pk__in=used).order_by("pk"):
        value = getattr(account, field.attname)
        mark = transaction.savepoint()
        free = plant.vessel("FREE").pk
        other = free if name == "vessel" else _another(value, field, dice)
        with connection.cursor() as cursor:
            cursor.execute(f"UPDATE ledger_account SET {field.column} = %s WHERE id = %s", [other, account.pk])
        if not prove().broken:
            unseen.append(f"{account.code}: {value!r} became {other!r}")
        transaction.savepoint_rollback(mark)
    assert unseen == []


@pytest.mark.parametrize(
    "table", [Leg, Gauge, MeasuredFlow, Duty, Balance, RunningBalance, AccountMonth, StageMonth, Movement]
)
def test_a_row_taken_away_is_missed(table: type[models.Model]) -> None:
    small_ledger()
    unguarded()
    keys = list(table.objects.order_by("pk").values_list("pk", flat=True))  # type: ignore[attr-defined]
    for key in {keys[0], keys[-1], *random.Random(20270304).sample(keys, min(10, len(keys)))}:
        mark = transaction.savepoint()
        with connection.cursor() as cursor:
            cursor.execute(f"DELETE FROM {table._meta.db_table} WHERE {table._meta.pk.column} = %s", [key])
        unseen = not prove().broken
        transaction.savepoint_rollback(mark)
        assert not unseen or _says_nothing(table, key), f"{table.__name__} {key}"


def _says_nothing(table: type[models.Model], key: Any) -> bool:
    """A sum of nothing: no figure hangs on it."""
    if table not in (Balance, AccountMonth, StageMonth):
        return False
    row = table.objects.get(pk=key)  # type: ignore[attr-defined]
    return not any(getattr(row, name, 0) for name in SUMMED)
