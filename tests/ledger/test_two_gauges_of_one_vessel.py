"""A vessel gauged twice in one record has two findings, and each enquiry has the figures of its own gauge.

By hand: a feints receiver opened with 100 litres of pure alcohol is found to hold 90 before a charge, gives 40 to a
still, and is found to hold 53 where 50 were left: 10 missing at the first gauge, 3 over at the second.
"""

from __future__ import annotations

import pytest

from distillery.people.models import Person
from distillery.plant.models import Kind, Stage
from ledger.comparing.unaccounted import GaugeFound, found_in_vessel
from ledger.enquiries.answering import Proposal, agree, agreeing, propose
from ledger.enquiries.balance import by_period, open_of
from ledger.enquiries.figures_now import figures_now
from ledger.enquiries.models import Ending, Enquiry
from ledger.enquiries.opening import About, open_about
from ledger.enquiries.register import loss_register
from ledger.models import Movement
from ledger.posting.drafts import Draft, Taken
from ledger.posting.post import correct, post

from . import plant

pytestmark = pytest.mark.django_db

LITRE = 1_000_000
FIRST, SECOND = "feints_before", "feints_receiver_before"
PERIOD = "2027-03"


def charge(held: float = 90.0) -> Draft:
    receiver = plant.vessel("FR", stage=Stage.LOW_WINES)
    still = plant.vessel_account(plant.vessel("SS", kind=Kind.STILL, stage=Stage.LOW_WINES))
    return plant.draft(
        "spirit run",
        "7",
        0,
        Taken(plant.gauge(receiver, held, name=FIRST), plant.gauging(receiver)),
        Taken(plant.gauge(receiver, 50.0, name="feints_after", role="after"), still),
        Taken(plant.gauge(receiver, 53.0, name=SECOND), plant.gauging(receiver)),
        moment="charge",
    )


@pytest.fixture
def charged(staff: Person, monkeypatch: pytest.MonkeyPatch) -> Movement:
    # The gauges are amounts without readings: there is nothing to rank anew.
    monkeypatch.setattr(agreeing, "note_uncompared", lambda records: None)
    post(plant.opening(plant.vessel("FR", stage=Stage.LOW_WINES), 100.0), person=staff)
    return post(charge(), person=staff)


def enquiry(name: str) -> Enquiry:
    return open_about(
        About(
            key=f"continuity:7/FR/{name}",
            kind="continuity",
            record_kind="spirit run",
            record_number="7",
            operation="gauging of FR",
            happened_at=plant.at(0),
            period=PERIOD,
            said=name,
        )
    )


def gauges() -> dict[str, GaugeFound]:
    return {one.key: one for one in found_in_vessel("FR", plant.at(0), 5)}


@pytest.mark.usefixtures("charged")
def test_each_has_the_difference_and_the_book_of_its_own_gauge() -> None:
    first, second = enquiry(FIRST), enquiry(SECOND)
    assert open_of(first).left_ul == 10 * LITRE
    assert open_of(second).left_ul == -3 * LITRE
    for one in (first, second):
        now, gauge = figures_now(one), gauges()[one.key]
        assert now is not None
        assert now.charge_ul == gauge.book_ul
        assert now.uncertainty_ul == gauge.uncertainty_ul
        assert open_of(one).left_ul == gauge.difference_ul
    assert [(part.account, part.pure_ul) for part in open_of(first).parts] == [("difference:gauging:FR", 10 * LITRE)]
    assert (by_period(first), by_period(second)) == ([(PERIOD, 10 * LITRE)], [(PERIOD, -3 * LITRE)])


@pytest.mark.usefixtures("charged")
def test_what_is_explained_of_one_is_not_taken_off_the_other(staff: Person, manager: Person) -> None:
    first, second = enquiry(FIRST), enquiry(SECOND)
    ending = Proposal(
        Ending.LOSS,
        checked="The floor under the receiver.",
        reason="A gland leaked.",
        cause="spillage",
        happened_at=plant.at(0),
        product="feints",
        pure_ul=4 * LITRE,
        percent=40.0,
    )
    propose(first, ending, person=staff)
    agree(first, second=manager)
    assert (open_of(first).left_ul, open_of(first).open_ul) == (10 * LITRE, 6 * LITRE)
    assert (open_of(second).left_ul, open_of(second).open_ul) == (-3 * LITRE, -3 * LITRE)
    for one in (first, second):
        gauge = gauges()[one.key]
        assert (gauge.difference_ul, gauge.open_ul) == (open_of(one).left_ul, open_of(one).open_ul)


def test_a_correction_moves_the_one_it_is_about(charged: Movement, staff: Person) -> None:
    first, second = enquiry(FIRST), enquiry(SECOND)
    correct([charged], [charge(98.0)], person=staff, reason="The dip was read again.")
    assert open_of(first).left_ul == 2 * LITRE
    assert open_of(second).left_ul == -3 * LITRE
    assert (by_period(first), by_period(second)) == ([(PERIOD, 2 * LITRE)], [(PERIOD, -3 * LITRE)])


@pytest.mark.usefixtures("charged")
def test_the_register_has_a_line_for_each_that_is_enquired_into() -> None:
    first = enquiry(FIRST)
    # The one that nobody enquires into stands with the other differences.
    assert {line.record: line.left_ul for line in loss_register(PERIOD).differences} == {"7": 10 * LITRE}
    whole = loss_register(PERIOD).difference_ul
    second = enquiry(SECOND)
    register = loss_register(PERIOD)
    assert {line.standing.enquiry: line.left_ul for line in register.differences} == {
        first: 10 * LITRE,
        second: -3 * LITRE,
    }
    assert register.difference_ul == whole == 7 * LITRE
