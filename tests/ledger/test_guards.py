"""What was posted cannot be changed or removed on either engine, and sums only by the triggers that add up."""

from __future__ import annotations

import pytest
from django.core.management import call_command
from django.db import DatabaseError, connection, transaction

from distillery.database.guards import missing, present, remove
from ledger.guards import FACTS, SUMS, ledger_guards
from ledger.models import Leg, Movement
from ledger.posting.post import post
from ledger.proof.checks import triggers_stand
from tests.people import somebody

from . import plant

pytestmark = pytest.mark.django_db


@pytest.fixture
def movement() -> Movement:
    person = somebody("ishbel")
    return post(plant.opening(plant.vessel("VAT"), 100.0), person=person)


def refused(sql: str) -> str:
    with pytest.raises(DatabaseError) as refusal, transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(sql)
    return str(refusal.value)


@pytest.mark.parametrize("table", ["ledger_account", "ledger_movement", "ledger_leg", "ledger_measurement"])
def test_a_fact_is_neither_changed_nor_removed(movement: Movement, table: str) -> None:
    assert table in FACTS
    column = {"ledger_account": "name", "ledger_movement": "reason", "ledger_leg": "stage", "ledger_measurement": "raw"}
    assert "keeps what was written" in refused(f"UPDATE {table} SET {column[table]} = 'x'")
    assert "keeps what was written" in refused(f"DELETE FROM {table}")


@pytest.mark.parametrize("table", SUMS)
def test_a_sum_is_written_by_its_trigger_only(movement: Movement, table: str) -> None:
    column = "difference_ul" if table == "ledger_stagemonth" else "mass_g"
    assert "added up from the legs" in refused(f"UPDATE {table} SET {column} = {column} + 1")
    assert "added up from the legs" in refused(f"DELETE FROM {table}")


def test_a_sealed_movement_takes_no_more_legs(movement: Movement) -> None:
    leg = movement.legs.first()
    assert leg is not None
    with pytest.raises(DatabaseError, match="takes no more legs"), transaction.atomic():
        Leg.objects.create(
            movement=movement,
            line=99,
            position=leg.position,
            account=leg.account,
            stage=leg.stage,
            entry=leg.entry,
            happened_at=leg.happened_at,
            period=leg.period,
            pure_ul=1,
            mass_g=0,
        )


@pytest.mark.parametrize(("pure_ul", "mass_g"), [(1, 0), (0, 1)])
def test_legs_that_do_not_sum_to_nothing_are_refused(movement: Movement, pure_ul: int, mass_g: int) -> None:
    leg = movement.legs.first()
    assert leg is not None
    Leg.objects.create(
        movement_id=movement.pk + 1,
        line=1,
        position=leg.position,
        account=leg.account,
        stage=leg.stage,
        entry=leg.entry,
        happened_at=leg.happened_at,
        period=leg.period,
        pure_ul=pure_ul,
        mass_g=mass_g,
    )
    unbalanced = Movement.objects.get(pk=movement.pk)
    unbalanced.pk += 1
    unbalanced.seal = "f" * 64
    with pytest.raises(DatabaseError, match="sum to nothing"), transaction.atomic():
        unbalanced.save(force_insert=True)
    # The leg without its movement would fail at commit: make it whole so that the test can end.
    Leg.objects.create(
        movement_id=movement.pk + 1,
        line=2,
        position=leg.position,
        account=leg.account,
        stage=leg.stage,
        entry=leg.entry,
        happened_at=leg.happened_at,
        period=leg.period,
        pure_ul=-pure_ul,
        mass_g=-mass_g,
    )
    unbalanced.save(force_insert=True)


@pytest.mark.postgresql
def test_truncate_is_refused(movement: Movement) -> None:
    for table in (*FACTS, *SUMS):
        assert refused(f"TRUNCATE {table} CASCADE")


def test_every_guard_stands_after_all_migrations() -> None:
    guards = ledger_guards(connection)
    assert missing(connection, guards) == []
    assert {guard.name for guard in guards} <= present(connection)


def test_a_missing_trigger_stops_the_site() -> None:
    remove(connection, [guard for guard in ledger_guards(connection) if guard.name == "ledger_leg_no_update"])
    errors = triggers_stand(databases=["default"])
    assert [error.id for error in errors] == ["ledger.E001"]
    assert "ledger_leg_no_update" in errors[0].msg


def test_the_command_finds_what_was_changed_behind_its_back(
    movement: Movement, capsys: pytest.CaptureFixture[str]
) -> None:
    call_command("verify_ledger")
    assert "every seal holds" in capsys.readouterr().out
    remove(connection, [guard for guard in ledger_guards(connection) if guard.table == "ledger_movement"])
    with connection.cursor() as cursor:
        cursor.execute("UPDATE ledger_movement SET reason = 'x'")
    with pytest.raises(Exception, match=f"movement {movement.pk} .*seal"):
        call_command("verify_ledger")
