"""A gauge is taken to account, and what is put right later restates the gauges after it.

The figures are invented; the arithmetic is double entry and can be checked by hand.
"""

from __future__ import annotations

import pytest

from distillery.people.models import Person
from distillery.plant.models import Kind, Stage
from ledger.models import Account, Balance, Leg, Movement, MovementKind, RunningBalance
from ledger.posting.drafts import Draft, Refused
from ledger.posting.post import correct, post
from ledger.proof.proving import prove
from tests.people import somebody

from . import plant

pytestmark = pytest.mark.django_db


@pytest.fixture
def person() -> Person:
    return somebody("ishbel")


def balance(code: str) -> int:
    return Balance.objects.filter(account__code=code).values_list("balance_ul", flat=True).first() or 0


def net(code: str) -> int:
    return sum(Leg.objects.filter(account__code=code).values_list("pure_ul", flat=True))


def spirit_run(receiver_after: float) -> tuple[Draft, Draft]:
    """Run 7: 1,240.0 charged; receiver 400.3 before; feints 430.0; spent lees 1.2."""
    still = plant.vessel("STILL", kind=Kind.STILL, stage=Stage.LOW_WINES)
    charge, receiver = plant.vessel("CHARGE", stage=Stage.LOW_WINES), plant.vessel("RECEIVER")
    feints = plant.vessel("FEINTS", stage=Stage.LOW_WINES)
    account = plant.vessel_account(still)
    return (
        plant.draft(
            "spirit run",
            "7",
            0,
            plant.found(charge, 1240.0),
            plant.left(charge, 0.0, account),
            plant.found(receiver, 400.3),
            plant.found(feints, 0.0),
            moment="charge",
        ),
        plant.draft(
            "spirit run",
            "7",
            6,
            plant.left(receiver, receiver_after, account),
            plant.left(feints, 430.0, account),
            plant.Moved(account, plant.loss("spent lees"), plant.quantity(1.2)),
            plant.Emptied(account, plant.difference("spirit run")),
        ),
    )


def transfer(hours: float = 30) -> Draft:
    receiver, vat = plant.vessel("RECEIVER"), plant.vessel("VAT")
    return plant.draft(
        "transfer",
        "5",
        hours,
        plant.found(receiver, 1194.8),
        plant.found(vat, 0.0),
        plant.left(receiver, 0.0, plant.difference("transfer")),
        plant.left(vat, 1193.5, plant.difference("transfer")),
    )


def recorded(person: Person, receiver_after: float) -> list[Movement]:
    post(plant.opening(plant.vessel("CHARGE", stage=Stage.LOW_WINES), 1240.0), person=person)
    post(plant.opening(plant.vessel("RECEIVER"), 400.0), person=person)
    return [post(draft, person=person) for draft in spirit_run(receiver_after)]


def test_a_short_dip_shows_twice_with_opposite_effect(person: Person) -> None:
    recorded(person, 1000.0)
    post(transfer(), person=person)
    assert net("difference:spirit run") == 209_100_000
    assert net("difference:gauging:RECEIVER") == -300_000 - 194_800_000
    assert balance("vessel:RECEIVER") == 0
    assert prove().broken == []


def test_correcting_the_run_clears_both_and_leaves_todays_book(person: Person) -> None:
    run = recorded(person, 1000.0)
    post(transfer(), person=person)
    before = balance("vessel:VAT"), balance("vessel:RECEIVER")
    correct(run, spirit_run(1195.0), person=person, reason="dip written 100 mm short")
    assert net("difference:spirit run") == 14_100_000
    assert net("difference:gauging:RECEIVER") == -300_000 + 200_000
    assert (balance("vessel:VAT"), balance("vessel:RECEIVER")) == before
    restated = Movement.objects.get(kind=MovementKind.RESTATEMENT)
    assert restated.legs.get(account__code="vessel:RECEIVER").pure_ul == -195_000_000
    assert restated.restates is not None
    assert restated.record_number == "5"
    assert prove().broken == []


def test_every_line_of_the_receiver_reads_right_after_the_correction(person: Person) -> None:
    run = recorded(person, 1000.0)
    post(transfer(), person=person)
    correct(run, spirit_run(1195.0), person=person, reason="dip written 100 mm short")
    rows = RunningBalance.objects.filter(account__code="vessel:RECEIVER").order_by("happened_at", "position", "leg_id")
    at_transfer = [row.balance_ul for row in rows.filter(happened_at=plant.at(30))]
    assert at_transfer == [1_389_800_000, 1_194_800_000, 0]


def test_a_transfer_written_late_takes_away_the_two_gaps_it_had_caused(person: Person) -> None:
    one, two = plant.vessel("ONE"), plant.vessel("TWO")
    post(plant.opening(one, 500.0), person=person)
    post(plant.opening(two, 100.0), person=person)
    post(plant.draft("stock take", "S1", 48, plant.found(one, 300.0), plant.found(two, 299.0)), person=person)
    assert net("difference:gauging:ONE") == 200_000_000
    assert net("difference:gauging:TWO") == -199_000_000
    late = plant.draft(
        "transfer",
        "9",
        24,
        plant.left(one, 300.0, plant.difference("transfer")),
        plant.left(two, 299.5, plant.difference("transfer")),
    )
    post(late, person=person)
    assert net("difference:gauging:ONE") == 0
    assert net("difference:gauging:TWO") == 500_000
    assert net("difference:transfer") == 500_000
    assert prove().broken == []


def test_correcting_a_record_whose_gauge_was_restated_takes_the_restatement_back(person: Person) -> None:
    run = recorded(person, 1000.0)
    moved = post(transfer(), person=person)
    correct(run, spirit_run(1195.0), person=person, reason="dip written 100 mm short")
    correct([moved], [transfer()], person=person, reason="copied out again")
    assert net("difference:gauging:RECEIVER") == -300_000 + 200_000
    assert balance("vessel:RECEIVER") == 0
    assert prove().broken == []


def test_a_cask_cannot_give_more_than_it_holds_now_or_later(person: Person) -> None:
    cask = plant.vessel("2027/0001", kind=Kind.CASK, stage=Stage.MATURING)
    vat = plant.vessel("VAT")
    account = plant.vessel_account(cask)
    post(
        plant.draft("opening casks", "C1", 0, plant.Moved(plant.source("opening stock"), account, plant.quantity(126))),
        person=person,
    )
    drawn = plant.draft("racking", "R1", 5, plant.Moved(account, plant.vessel_account(vat), plant.quantity(100)))
    post(drawn, person=person)
    with pytest.raises(Refused, match=r"2027/0001"):
        post(
            plant.draft("racking", "R0", 3, plant.Moved(account, plant.vessel_account(vat), plant.quantity(30))),
            person=person,
        )


def test_a_correction_needs_a_reason(person: Person) -> None:
    run = recorded(person, 1195.0)
    with pytest.raises(Refused, match="why"):
        correct(run, spirit_run(1195.0), person=person, reason=" ")


def test_a_movement_is_corrected_once(person: Person) -> None:
    run = recorded(person, 1000.0)
    correct(run, spirit_run(1195.0), person=person, reason="dip")
    with pytest.raises(Refused, match="corrected already"):
        correct(run, spirit_run(1196.0), person=person, reason="dip again")


def test_accounts_are_made_once(person: Person) -> None:
    recorded(person, 1195.0)
    assert Account.objects.filter(code="difference:spirit run").count() == 1


def test_a_transfer_goes_from_vessel_to_vessel_and_only_the_rest_is_difference(person: Person) -> None:
    recorded(person, 1195.0)
    moved = post(transfer(), person=person)
    legs = {leg.account.code: leg for leg in moved.legs.exclude(entry="gauging").select_related("account", "other")}
    assert legs["vessel:RECEIVER"].entry == legs["vessel:VAT"].entry == "flow"
    assert legs["vessel:RECEIVER"].other == legs["vessel:VAT"].account
    assert legs["vessel:VAT"].other == legs["vessel:RECEIVER"].account
    assert legs["difference:transfer"].pure_ul == 1_300_000
