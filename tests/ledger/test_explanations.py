"""An explanation moves a difference to a known loss, in two hands, and can be taken back.

All figures are invented and worked by hand.
"""

from __future__ import annotations

import csv
from collections.abc import Callable

import pytest

from distillery.people.models import Person
from ledger.enquiries import unanswered
from ledger.enquiries.answering import (
    agree,
    may_agree,
    propose,
    reopen,
    send_back,
)
from ledger.enquiries.balance import open_of
from ledger.enquiries.explaining import explanation
from ledger.enquiries.models import Enquiry
from ledger.enquiries.opening import Unanswerable, open_about
from ledger.enquiries.register import as_csv, loss_register
from ledger.enquiries.standing import State, history, standing_of
from ledger.models import Leg, Movement, MovementKind
from ledger.posting import post as posting
from ledger.posting.drafts import Refused
from ledger.proof.proving import prove
from ledger.statements.month import month_account
from tests.ledger.plant import at

from .enquired_run import PERIOD, _nothing_to_compare, about, enquiry, run, spillage

__all__ = ["_nothing_to_compare", "enquiry"]


pytestmark = pytest.mark.django_db


# -- the ending, by two people


def test_an_explanation_moves_the_difference_to_the_known_loss(
    enquiry: Enquiry, staff: Person, manager: Person
) -> None:
    before = month_account(PERIOD)
    propose(enquiry, spillage(), person=staff)
    assert standing_of(enquiry).state == State.WAITING
    assert month_account(PERIOD) == before, "nothing is posted before the second person agrees"
    assert unanswered(PERIOD) == [enquiry]

    agreed = agree(enquiry, second=manager)

    after = month_account(PERIOD)
    assert dict(before.losses) == {"spent lees": 2_000_000}
    assert dict(after.losses) == {"spent lees": 2_000_000, "spillage": 48_000_000}
    assert after.site.difference_ul == before.site.difference_ul - 48_000_000 == 0
    assert after.site.loss_ul == 50_000_000
    assert after.foots
    movement = agreed.movement
    assert movement is not None
    assert (movement.kind, movement.person, movement.second) == (MovementKind.EXPLANATION, staff, manager)
    assert movement.happened_at == at(0)
    for words in ("spillage", "new spirit", "seal of the transfer pump", "tank room floor"):
        assert words in movement.reason
    # 48 litres of pure alcohol at 70 % vol are 68.571 litres of 885.6 kg/m3 at 20 C (OIML R 22:1975, table IIIa).
    mass_g = {leg.account.code: leg.mass_g for leg in Leg.objects.filter(movement=movement).select_related("account")}
    assert mass_g["loss:spillage"] == -mass_g["difference:spirit run"] == pytest.approx(60_727, abs=15)
    assert standing_of(enquiry).in_words == "answered: spillage"
    assert unanswered(PERIOD) == []
    assert prove().holds


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"checked": " "}, "What was checked is blank"),
        ({"reason": ""}, "Reason is blank"),
        ({"cause": ""}, "Cause is not chosen"),
        ({"cause": "evaporated somehow"}, "is no cause of loss of this site"),
        ({"happened_at": None}, "When it was lost is blank"),
        ({"happened_at": at(24 * 40)}, "The difference stands in 2027-03"),
        ({"product": ""}, "Product is blank"),
        ({"percent": None}, "Strength has to lie above 0"),
        ({"percent": 0.0}, "Strength has to lie above 0"),
        ({"percent": 0.0000001}, "Strength has to be at least 0.01"),
        ({"percent": float("inf")}, "Strength has to lie above 0"),
        ({"product": "x" * 2_000}, "Product is 2000 characters long"),
        ({"checked": "x" * 60_000}, "What was checked is 60000 characters long"),
        ({"reason": "x" * 60_000}, "Reason is 60000 characters long"),
        ({"pure_ul": 10**300}, "give at most what is open"),
        ({"pure_ul": 0}, "Alcohol is blank"),
        ({"pure_ul": -1_000_000}, "goes the same way"),
        ({"pure_ul": 48_000_001}, "give at most what is open"),
    ],
)
def test_an_ending_without_what_the_law_asks_is_refused(
    enquiry: Enquiry, staff: Person, change: dict[str, object], sentence: str
) -> None:
    with pytest.raises(Unanswerable, match=sentence):
        propose(enquiry, spillage(**change), person=staff)  # type: ignore[arg-type]
    assert history(enquiry) == []


def test_a_proposal_without_strength_from_before_is_refused_and_not_divided_by(
    enquiry: Enquiry, staff: Person, manager: Person
) -> None:
    proposed = propose(enquiry, spillage(), person=staff)
    proposed.percent_millionths = 0
    with pytest.raises(Refused, match="send it back"):
        explanation(enquiry, proposed)


def test_formulas_in_the_register_stand_behind_an_apostrophe_and_figures_stay_figures(
    enquiry: Enquiry, staff: Person, manager: Person
) -> None:
    propose(enquiry, spillage(product="=1+1", reason="@SUM(1)"), person=staff)
    agree(enquiry, second=manager)
    lines = list(csv.DictReader(as_csv(loss_register(PERIOD)).splitlines()))
    assert "'@SUM(1)" in [line["reason"] for line in lines]
    for line in lines:
        for column, cell in line.items():
            assert not cell.startswith(("=", "@", "+", "-", "\t")) or column.endswith("lpa"), line
    assert "48.0000" in [line["lpa"] for line in lines]


def test_the_second_person_is_another_and_one_of_the_two_may_explain(
    enquiry: Enquiry, staff: Person, manager: Person, person_of: Callable[..., Person]
) -> None:
    colleague = person_of("test-colleague", "staff")
    proposed = propose(enquiry, spillage(), person=staff)
    with pytest.raises(Unanswerable, match="someone else has to agree"):
        agree(enquiry, second=staff)
    with pytest.raises(Unanswerable, match="One of the two has to be a manager"):
        agree(enquiry, second=colleague)
    assert [may_agree(proposed, one) for one in (staff, colleague, manager)] == [False, False, True]
    agree(enquiry, second=manager)
    with pytest.raises(Unanswerable, match="no ending waits"):
        agree(enquiry, second=manager)


def test_a_manager_proposes_and_staff_agree(enquiry: Enquiry, staff: Person, manager: Person) -> None:
    propose(enquiry, spillage(), person=manager)
    agree(enquiry, second=staff)
    assert standing_of(enquiry).state == State.ANSWERED


def test_sent_back_it_is_open_again_and_can_be_proposed_anew(enquiry: Enquiry, staff: Person, manager: Person) -> None:
    propose(enquiry, spillage(), person=staff)
    with pytest.raises(Unanswerable, match="waits for a second person"):
        propose(enquiry, spillage(), person=staff)
    with pytest.raises(Unanswerable, match="Reason is blank"):
        send_back(enquiry, person=manager, reason="")
    send_back(enquiry, person=manager, reason="Weigh the receiver first.")
    assert standing_of(enquiry).state == State.OPEN
    propose(enquiry, spillage(), person=staff)
    assert [event.what for event in history(enquiry)] == ["proposed", "sent back", "proposed"]


def test_a_part_explained_leaves_the_rest_open_when_it_is_still_beyond_the_threshold(
    enquiry: Enquiry, staff: Person, manager: Person
) -> None:
    propose(enquiry, spillage(10_000_000), person=staff)
    agree(enquiry, second=manager)
    assert open_of(enquiry).open_ul == 38_000_000
    assert standing_of(enquiry).state == State.OPEN
    propose(enquiry, spillage(20_000_000, cause="cleaning"), person=staff)
    agree(enquiry, second=manager)
    # 18 are left, inside the threshold of 26.
    assert standing_of(enquiry).state == State.ANSWERED
    assert dict(month_account(PERIOD).losses) == {
        "spent lees": 2_000_000,
        "spillage": 10_000_000,
        "cleaning": 20_000_000,
    }


def test_an_explanation_taken_back_leaves_both_entries_to_read(
    enquiry: Enquiry, staff: Person, manager: Person
) -> None:
    before = month_account(PERIOD)
    propose(enquiry, spillage(), person=staff)
    movement = agree(enquiry, second=manager).movement
    with pytest.raises(Unanswerable, match="ask the manager"):
        reopen(enquiry, person=staff, reason="It was the dip after all.")
    with pytest.raises(Unanswerable, match="Reason is blank"):
        reopen(enquiry, person=manager, reason="")
    reopen(enquiry, person=manager, reason="It was the dip after all.")
    after = month_account(PERIOD)
    assert (after.site.loss_ul, after.site.difference_ul) == (before.site.loss_ul, before.site.difference_ul)
    assert Movement.objects.filter(corrects=movement).get().reason == "EQ0001: It was the dip after all."
    assert standing_of(enquiry).state == State.OPEN
    assert open_of(enquiry).open_ul == 48_000_000


def test_a_gain_is_explained_back_from_a_known_loss(staff: Person, manager: Person) -> None:
    run(staff, gives=1040)
    gain = open_about(about(difference_ul=-42_000_000))
    with pytest.raises(Unanswerable, match="goes the same way"):
        propose(gain, spillage(1_000_000, cause="spent lees"), person=staff)
    propose(gain, spillage(-1_500_000, cause="spent lees", product="low wines", percent=0.1), person=staff)
    agree(gain, second=manager)
    account = month_account(PERIOD)
    assert dict(account.losses) == {"spent lees": 500_000}
    assert account.site.difference_ul == -40_500_000
    register = loss_register(PERIOD)
    assert [(line.cause, line.pure_ul) for line in register.gains] == [("spent lees", -1_500_000)]
    assert register.lost_ul == 2_000_000


def test_an_explanation_is_refused_when_the_difference_has_gone_meanwhile(
    enquiry: Enquiry, staff: Person, manager: Person
) -> None:
    propose(enquiry, spillage(), person=staff)
    movement = Movement.objects.get(record_number="SR0001")
    posting.correct([movement], [], person=staff, reason="The run never happened.")
    with pytest.raises((Unanswerable, Refused), match="No difference is left"):
        agree(enquiry, second=manager)
