"""Measurements of vessels and of flows stand in one table, and nobody who asks for one kind meets the other."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from distillery.database.guards import remove
from distillery.plant.models import Kind, Stage
from distillery.trail.checks import all_guards
from ledger.models import Account, Gauge, MeasuredFlow, Measurement, Movement
from ledger.posting.post import correct, post
from ledger.proof.chain import link_of, seal_holds
from ledger.proof.proving import prove
from tests.people import somebody

from . import plant

pytestmark = pytest.mark.django_db


@pytest.fixture
def fill() -> Movement:
    """A cask filled by weight from a vat that was gauged before and after."""
    person = somebody("ishbel")
    vat = plant.vessel("VAT")
    wood = plant.vessel_account(plant.vessel("2027/0001", kind=Kind.CASK, stage=Stage.MATURING))
    post(plant.opening(vat, 500), person=person)
    moved = plant.Moved(plant.vessel_account(vat), wood, plant.quantity(126), measured=plant.weighed("cask"))
    gauged = plant.left(vat, 373.5, plant.difference("cask fill"))
    return post(plant.draft("cask fill", "4", 5, plant.found(vat, 499.8), moved, gauged), person=person)


def test_each_kind_is_asked_for_by_its_own_name(fill: Movement) -> None:
    gauges, flows = Gauge.objects.filter(movement=fill), MeasuredFlow.objects.filter(movement=fill)
    assert [(one.account.code, one.role) for one in gauges.order_by("position")] == [
        ("vessel:VAT", "before"),
        ("vessel:VAT", "after"),
    ]
    assert [(one.giver.code, one.taker.code, one.pure_ul) for one in flows] == [
        ("vessel:VAT", "vessel:2027/0001", 126_000_000)
    ]
    everything = Measurement.everything.all()
    assert everything.count() == Gauge.objects.count() + MeasuredFlow.objects.count() == 4
    assert set(everything.of_vessels().values_list("pk")) == set(Gauge.objects.values_list("pk"))
    assert set(everything.of_flows().values_list("pk")) == set(MeasuredFlow.objects.values_list("pk"))


def test_what_is_taken_back_stands_in_neither(fill: Movement) -> None:
    correct([fill], [], person=fill.person, reason="filled another cask")
    assert MeasuredFlow.objects.count() == 1
    assert list(MeasuredFlow.objects.standing()) == []
    assert [one.movement_id for one in Gauge.objects.standing()] == [1]


def test_a_movement_with_both_keeps_its_seal(fill: Movement) -> None:
    link = link_of(fill)
    assert (len(link.details.gauges), len(link.details.flows)) == (2, 1)
    assert seal_holds(link)
    assert prove().broken == []


def test_all_measurements_of_a_movement_are_put_by_one_statement() -> None:
    person = somebody("ishbel")
    vat, other = plant.vessel("VAT"), plant.vessel_account(plant.vessel("OTHER"))
    moved = plant.Moved(plant.vessel_account(vat), other, plant.quantity(9), measured=plant.weighed("flow"))
    post(plant.opening(vat, 500), person=person)
    with CaptureQueriesContext(
        connection,
    ) as asked:
        post(plant.draft("transfer", "5", 5, plant.found(vat, 499.8), moved), person=person)
    said = [one["sql"].replace('"', "").strip() for one in asked.captured_queries]
    put = [one for one in said if "INSERT INTO ledger_measurement" in one]
    assert len(put) == 1, said


@pytest.mark.parametrize(
    ("model", "column"),
    [
        (Gauge, "line"),
        (Gauge, "giver_id"),
        (Gauge, "taker_id"),
        (MeasuredFlow, "account_id"),
        (MeasuredFlow, "happened_at"),
        (MeasuredFlow, "position"),
        (MeasuredFlow, "book_ul"),
        (MeasuredFlow, "role"),
    ],
)
def test_a_row_that_says_what_only_the_other_kind_has_is_refused_and_found(
    fill: Movement, model: Any, column: str
) -> None:
    remove(connection, all_guards(connection))
    key = model.objects.filter(movement=fill).first().pk
    value = {"happened_at": plant.at(9), "role": "after"}.get(column, Account.objects.order_by("pk")[0].pk)

    def change() -> None:
        Measurement.everything.filter(pk=key).update(**{column: value})

    with pytest.raises(IntegrityError), transaction.atomic():
        change()
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("PRAGMA ignore_check_constraints = ON")
        else:
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
            cursor.execute("ALTER TABLE ledger_measurement DROP CONSTRAINT of_a_vessel_or_of_a_flow")
        try:
            change()
        finally:
            if connection.vendor == "sqlite":
                cursor.execute("PRAGMA ignore_check_constraints = OFF")
    assert prove().broken != []
