"""What is written of a closed period stands in the open one, and ends where it would have ended.

All figures are invented and worked by hand.
"""

from __future__ import annotations

import pytest

from distillery.people.models import Person
from distillery.plant.models import Kind, Stage
from ledger.models import Gauge, Movement, RunningBalance
from ledger.posting.drafts import Draft, Line
from ledger.posting.post import Refused, correct, post
from ledger.proof.proving import prove
from ledger.statements.month import month_account

from . import plant
from .closed_books import APRIL, MAY, balances, close

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("nothing_compared")]


# -- what is put right after the close


def test_what_is_put_right_after_the_close_stands_in_the_open_month_and_ends_where_it_would_have_ended(
    manager: Person, staff: Person
) -> None:
    """By hand. March: 100 opened; drawn to 60 into a cask book (40); 15 March gauged at 58. Closed. April: gauged 57.

    Put right in May: the draw left 64, so the cask got 36. In its place that would have been: difference of the draw
    0, and the gauge of 15 March finds 6 missing instead of 2. The books carry it on 1 April: vat +4 and -4 again,
    cask -4, found by gauging 4 more.
    """
    vat, cask = plant.vessel("VAT"), plant.vessel("C1", kind=Kind.CASK, stage=Stage.MATURING)
    wood = plant.vessel_account(cask)

    def draw(left: float, filled: float) -> list[Line]:
        return [
            plant.found(vat, 100),
            plant.Moved(plant.vessel_account(vat), wood, plant.quantity(filled)),
            plant.left(vat, left, plant.difference("fill")),
        ]

    post(plant.opening(vat, 100.0), person=manager)
    filled = post(plant.draft("fill", "F1", 0, *draw(60, 40)), person=manager)
    stock_take = post(plant.draft("stock take", "ST1", 72, plant.found(vat, 58)), person=manager)
    close("2027-03", manager, staff)
    frozen = month_account("2027-03")
    post(plant.draft("stock take", "ST2", 24 * 40, plant.found(vat, 57)), person=manager)

    again = correct([filled], [plant.draft("fill", "F1", 0, *draw(64, 36))], person=manager, reason="misread")

    assert month_account("2027-03").stages == frozen.stages
    opposite = Movement.objects.get(corrects=filled)
    assert [(one.happened_at, one.period, one.true_at) for one in (opposite, *again)] == [
        (APRIL, "2027-04", plant.at(0))
    ] * 2
    gauges = Gauge.objects.filter(movement=again[0]).order_by("position")
    assert list(gauges.values_list("happened_at", "pure_ul", "book_ul")) == [
        (plant.at(0), 100_000_000, 100_000_000),
        (plant.at(0), 64_000_000, 64_000_000),
    ]
    restated = Movement.objects.get(restates__movement=stock_take)
    assert (restated.happened_at, restated.period, restated.true_at) == (APRIL, "2027-04", plant.at(72))
    # On 1 April the vat's book is what it was, 58, and only then the gauge of 21 April finds 1 missing.
    on_april_first = RunningBalance.objects.filter(account__code="vessel:VAT", happened_at=APRIL)
    assert [row.balance_ul for row in on_april_first.order_by("position", "leg")][-1] == 58_000_000
    assert {code: pure / 1e6 for code, (pure, _) in balances().items()} == {
        "vessel:VAT": 57,
        "vessel:C1": 36,
        "source:opening stock": -100,
        "difference:gauging:VAT": 7,
    }
    assert month_account("2027-04").foots
    assert prove().broken == []


def test_without_a_gauge_in_the_closed_time_the_next_open_one_is_restated(manager: Person, staff: Person) -> None:
    """By hand: 100 opened, 10 received on 12 March; closed; 3 April gauged at 109, 1 missing. 13 were received: 4."""
    vat = plant.vessel("VAT")
    received = plant.source("received")

    def receipt(lpa: float) -> list[Draft]:
        return [plant.draft("receipt", "R1", 0, plant.Moved(received, plant.vessel_account(vat), plant.quantity(lpa)))]

    post(plant.opening(vat, 100.0), person=manager)
    first = post(receipt(10)[0], person=manager)
    close("2027-03", manager, staff)
    gauged = post(plant.draft("stock take", "ST2", 24 * 22, plant.found(vat, 109)), person=manager)
    second = correct([first], receipt(13), person=manager, reason="misread")
    assert Movement.objects.get(restates__movement=gauged).period == "2027-04"
    assert Movement.objects.get(restates__movement=gauged).true_at is None
    assert balances()["difference:gauging:VAT"][0] == 4_000_000
    # Once more, after April is closed too: carried by May, and the gauge of April by May as well.
    close("2027-04", manager, staff)
    correct(second, receipt(11), person=manager, reason="misread again")
    assert balances()["difference:gauging:VAT"][0] == 2_000_000
    assert balances()["vessel:VAT"][0] == 109_000_000
    assert set(Movement.objects.filter(period="2027-05").values_list("happened_at", flat=True)) == {MAY}
    assert prove().broken == []


def test_a_gauge_at_the_very_first_open_moment_comes_after_what_is_carried_there(
    manager: Person, staff: Person
) -> None:
    """By hand: 100 opened, 10 received; closed; gauged at 109 on 1 April 00:00. 13 were received: 4 missing, not 1."""
    vat = plant.vessel("VAT")

    def receipt(lpa: float) -> Draft:
        received = plant.Moved(plant.source("received"), plant.vessel_account(vat), plant.quantity(lpa))
        return plant.draft("receipt", "R1", 0, received)

    post(plant.opening(vat, 100.0), person=manager)
    first = post(receipt(10), person=manager)
    close("2027-03", manager, staff)
    hours = (APRIL - plant.START).total_seconds() / 3600
    post(plant.draft("stock take", "ST2", hours, plant.found(vat, 109)), person=manager)
    correct([first], [receipt(13)], person=manager, reason="misread")
    rows = RunningBalance.objects.filter(account__code="vessel:VAT", happened_at=APRIL).order_by("position", "leg")
    # Ten taken back, thirteen in, then the gauge finds 1 missing and is restated by 3 more.
    assert [(row.position < 0, row.balance_ul / 1e6) for row in rows] == [
        (True, 100),
        (True, 113),
        (False, 112),
        (False, 109),
    ]
    assert balances()["difference:gauging:VAT"][0] == 4_000_000
    assert prove().broken == []


def test_a_late_entry_of_a_closed_month_meets_the_book_as_it_stood(manager: Person, staff: Person) -> None:
    """By hand: 100 opened; 15 March gauged at 70 (30 missing). Closed. Late: on 13 March 30 went into a cask."""
    vat = plant.vessel("VAT")
    wood = plant.vessel_account(plant.vessel("C1", kind=Kind.CASK, stage=Stage.MATURING))
    post(plant.opening(vat, 100.0), person=manager)
    post(plant.draft("stock take", "ST1", 72, plant.found(vat, 70)), person=manager)
    close("2027-03", manager, staff)
    late = post(
        plant.draft(
            "fill",
            "F1",
            24,
            plant.found(vat, 100),
            plant.Moved(plant.vessel_account(vat), wood, plant.quantity(30)),
            plant.left(vat, 70, plant.difference("fill")),
        ),
        person=staff,
    )
    assert (late.happened_at, late.true_at, late.took_place_at) == (APRIL, plant.at(24), plant.at(24))
    gauges = Gauge.objects.filter(movement=late).order_by("position")
    assert list(gauges.values_list("book_ul", flat=True)) == [100_000_000, 70_000_000]
    assert {code: pure / 1e6 for code, (pure, _) in balances().items()} == {
        "vessel:VAT": 70,
        "vessel:C1": 30,
        "source:opening stock": -100,
    }
    assert prove().broken == []


def test_a_cask_may_not_fall_below_nothing_in_the_closed_month_either(manager: Person, staff: Person) -> None:
    """By hand: filled with 100, drawn 80 in March, filled with 90 in April: a fill of 70 never covered the draw."""
    wood = plant.vessel_account(plant.vessel("C1", kind=Kind.CASK, stage=Stage.MATURING))

    def fill(lpa: float) -> Draft:
        return plant.draft("fill", "F1", 0, plant.Moved(plant.source("received"), wood, plant.quantity(lpa)))

    filled = post(fill(100), person=manager)
    post(plant.draft("draw", "D1", 5, plant.Moved(wood, plant.loss("leak"), plant.quantity(80))), person=manager)
    close("2027-03", manager, staff)
    post(
        plant.draft("fill", "F2", 24 * 30, plant.Moved(plant.source("received"), wood, plant.quantity(90))),
        person=manager,
    )
    with pytest.raises(Refused, match=r"10\.00 litres of pure alcohol more"):
        correct([filled], [fill(70)], person=manager, reason="weighed again")
    correct([filled], [fill(85)], person=manager, reason="weighed again")
    assert balances()[wood.code][0] == 95_000_000
    assert prove().broken == []


def test_opening_stock_found_later_opens_the_first_open_month(manager: Person, staff: Person) -> None:
    post(plant.opening(plant.vessel("VAT"), 100.0), person=manager)
    close("2027-03", manager, staff)
    assert post(plant.opening(plant.vessel("B"), 10.0, hours=24 * 30), person=manager).period == "2027-04"
    earlier = post(plant.opening(plant.vessel("A"), 10.0, hours=-50), person=manager)
    assert (earlier.period, earlier.true_at) == ("2027-04", plant.at(-50))
    assert prove().broken == []
