"""Whatever is written, late, put right, explained, closed or refused, in any order: the ledger agrees with one that is
too simple to err.

The short run is part of the suite; the long one is `python -m pytest -m slow tests/ledger/test_state_machine.py`.

The figures are drawn at random and mean nothing; what is compared is arithmetic.
"""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, Phase, settings
from hypothesis.stateful import run_state_machine_as_test

from ledger.models import (
    Balance,
    Gauge,
    RunningBalance,
)
from ledger.posting.accounts import removal
from ledger.posting.drafts import Draft
from ledger.posting.post import correct, post
from ledger.proof.proving import prove
from ledger.statements.month import month_account
from tests.people import somebody

from . import plant
from .machine_drafts import cask, tank
from .months_machine import Months

pytestmark = pytest.mark.django_db


def compare(examples: int, steps: int, phases: tuple[Phase, ...] = (Phase.generate,)) -> None:
    run_state_machine_as_test(
        Months,
        settings=settings(
            max_examples=examples,
            stateful_step_count=steps,
            deadline=None,
            derandomize=True,
            database=None,
            phases=phases,
            suppress_health_check=list(HealthCheck),
        ),
    )


@pytest.mark.usefixtures("nothing_compared")
def test_the_ledger_agrees_with_one_of_plain_lists() -> None:
    compare(examples=10, steps=25)


@pytest.mark.slow
@pytest.mark.usefixtures("nothing_compared")
def test_the_ledger_agrees_with_one_of_plain_lists_at_length() -> None:
    compare(examples=500, steps=50, phases=(Phase.generate, Phase.shrink))


def test_two_records_put_right_at_once_keep_their_own_places_and_meet_the_gauge_between_them() -> None:
    """By hand: a tank opened at 100 and drawn twice, to 70 and, after a stock take at 60, to 50.

    Both draws are put right in one writing, to 80 and to 40, at the moment they happened. The stock take between them
    then finds 20 too little, and the second draw begins at the 60 that it found.
    """
    person = somebody("ishbel")
    vat = tank("B")

    def draw(number: str, hours: float, before: float, after: float) -> Draft:
        apart = plant.difference("draw")
        return plant.draft("draw", number, hours, plant.found(vat, before), plant.left(vat, after, apart))

    post(plant.opening(vat, 100), person=person)
    first = post(draw("D1", 10, 100, 70), person=person)
    post(plant.draft("stock take", "S1", 15, plant.found(vat, 60)), person=person)
    second = post(draw("D2", 20, 60, 50), person=person)
    written = correct(
        [first, second], [draw("D1", 10, 100, 80), draw("D2", 20, 60, 40)], person=person, reason="read by one hand"
    )
    assert [(one.record_number, one.slot) for one in written] == [("D1", first.slot), ("D2", second.slot)]
    rows = RunningBalance.objects.filter(account__code="vessel:B").order_by("happened_at", "position", "leg_id")
    after = {(row.happened_at, row.position): row.balance_ul for row in rows}
    gauges = Gauge.objects.standing().order_by("happened_at", "position")
    assert [gauge.pure_ul for gauge in gauges] == [n * 1_000_000 for n in (100, 100, 80, 60, 60, 40)]
    for gauge in gauges.filter(happened_at__gt=plant.at(12)):
        upto = max(key for key in after if key <= (gauge.happened_at, gauge.position))
        assert after[upto] == gauge.pure_ul
    assert Balance.objects.get(account__code="difference:draw").balance_ul == 40_000_000
    assert prove().broken == []


def test_two_records_of_one_moment_are_put_right_in_the_order_of_their_places() -> None:
    """By hand: two gauges of one moment, 70 and then 60; put right at once, named the other way round, to 80 and 50."""
    person = somebody("ishbel")
    first, second = (
        post(plant.draft("stock take", number, 5, plant.found(tank("B"), lpa)), person=person)
        for number, lpa in (("S1", 70), ("S2", 60))
    )
    right = (("S2", 50), ("S1", 80))
    drafts = [plant.draft("stock take", number, 5, plant.found(tank("B"), lpa)) for number, lpa in right]
    written = correct([second, first], drafts, person=person, reason="read again")
    assert [one.record_number for one in written] == ["S1", "S2"]
    assert [gauge.book_ul for gauge in Gauge.objects.standing().order_by("position")] == [0, 80_000_000]
    assert Balance.objects.get(account__code="vessel:B").balance_ul == 50_000_000
    assert prove().broken == []


def test_a_draw_that_was_struck_does_not_count_when_the_fill_is_put_right() -> None:
    """By hand: filled 100, drawn 80, the draw put right to 10; a fill of 50 still covers it."""
    person = somebody("ishbel")
    wood = plant.vessel_account(cask("1"))

    def fill(lpa: float) -> Draft:
        return plant.draft("fill", "F1", 0, plant.Moved(plant.source("opening stock"), wood, plant.quantity(lpa)))

    def draw(lpa: float) -> Draft:
        return plant.draft("draw", "D1", 5, plant.Moved(wood, removal("samples"), plant.quantity(lpa)))

    filled = post(fill(100), person=person)
    correct([post(draw(80), person=person)], [draw(10)], person=person, reason="another cask")
    correct([filled], [fill(50)], person=person, reason="weighed again")
    assert Balance.objects.get(account__code=wood.code).balance_ul == 40_000_000
    assert prove().broken == []


def test_a_book_below_nothing_is_shown_and_not_an_error() -> None:
    """A tank may be below nothing until its next gauge; the month's account must still open."""
    person = somebody("ishbel")
    drawn = plant.Moved(plant.vessel_account(tank("B")), removal("samples"), plant.quantity(2))
    post(plant.draft("samples", "S1", 0, drawn), person=person)
    account = month_account("2027-03")
    assert account.foots
    assert [(held.pure_ul, held.percent20) for held in account.vessels] == [(-2_000_000, None)]


def test_a_gauge_between_two_flows_into_its_vessel_is_met_where_it_stands() -> None:
    """By hand: 30 in, gauged at 31, 20 in: the book after the gauge is 31 and then 51."""
    person = somebody("ishbel")
    vat, one, two = tank("B"), tank("A"), tank("C")
    post(plant.opening(one, 100), person=person)
    post(plant.opening(two, 100), person=person)
    post(
        plant.draft(
            "vatting",
            "V1",
            0,
            plant.Moved(plant.vessel_account(one), plant.vessel_account(vat), plant.quantity(30)),
            plant.found(vat, 31),
            plant.Moved(plant.vessel_account(two), plant.vessel_account(vat), plant.quantity(20)),
        ),
        person=person,
    )
    rows = RunningBalance.objects.filter(account__code="vessel:B").order_by("happened_at", "position", "leg_id")
    gauge = Gauge.objects.get(account__code="vessel:B")
    upto = [row.balance_ul for row in rows if row.position <= gauge.position]
    assert upto[-1] == 31_000_000
    assert Balance.objects.get(account__code="vessel:B").balance_ul == 51_000_000
