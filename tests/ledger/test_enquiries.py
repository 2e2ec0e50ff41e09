"""Enquiries: opened once for one fault, answered by two people, posted to the books, opened again.

The plant and all figures are invented and worked by hand: a run takes 1,000 litres of pure alcohol from a vat that
held them, gives 950 to a receiver, and leaves 50 as its difference.
"""

from __future__ import annotations

import csv
from collections.abc import Callable

import pytest
from django.db import DatabaseError, transaction

from distillery.people.models import Person
from distillery.plant.models import Kind, Stage
from ledger.enquiries import state_of, unanswered
from ledger.enquiries.answering import (
    Proposal,
    agree,
    agreeing,
    may_agree,
    note,
    propose,
    reopen,
    send_back,
    tie,
)
from ledger.enquiries.balance import open_of
from ledger.enquiries.explaining import explanation
from ledger.enquiries.models import Ending, Enquiry, EnquiryEvent, What
from ledger.enquiries.opening import About, Unanswerable, open_about, open_by_hand
from ledger.enquiries.register import as_csv, loss_register
from ledger.enquiries.standing import State, history, of_period, standing_of
from ledger.models import Leg, Movement, MovementKind
from ledger.periods import service
from ledger.periods.models import CloseRequest
from ledger.posting import post as posting
from ledger.posting.drafts import Refused
from ledger.proof.proving import prove
from ledger.statements.month import month_account
from tests.ledger.plant import Emptied, Moved, at, difference, draft, found, left, loss, opening, quantity, vessel

PERIOD = "2027-03"
MISSING_UL = 50_000_000

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _nothing_to_compare(monkeypatch: pytest.MonkeyPatch) -> None:
    """Gauges here are amounts without readings, so there is nothing to rank anew; the month's tests see to that."""
    monkeypatch.setattr(agreeing, "note_uncompared", lambda records: None)


def run(person: Person, number: str = "SR0001", gives: float = 950, hours: float = 0) -> None:
    """A run that is charged with 1,000 litres of pure alcohol and loses 2 in its spent lees."""
    vat, still = vessel(f"V-{number}"), vessel("SS", kind=Kind.STILL, stage=Stage.LOW_WINES)
    receiver = vessel(f"R-{number}")
    for of, lpa in ((vat, 1000), (receiver, 0)):
        posting.post(opening(of, lpa), person=person)
    from ledger.posting.accounts import vessel_account

    account = vessel_account(still)
    posting.post(
        draft(
            "spirit run",
            number,
            hours,
            found(vat, 1000),
            left(vat, 0, account),
            found(receiver, 0),
            left(receiver, gives, account),
            Moved(account, loss("spent lees"), quantity(2)),
            Emptied(account, difference("spirit run")),
        ),
        person=person,
    )


def about(number: str = "SR0001", difference_ul: int = MISSING_UL - 2_000_000) -> About:
    return About(
        key=f"operation:{number}",
        kind="enquiry",
        record_kind="spirit run",
        record_number=number,
        operation="spirit run",
        happened_at=at(0),
        period=PERIOD,
        said="48.00 LPA missing in this operation.",
        difference_ul=difference_ul,
        uncertainty_ul=4_000_000,
        threshold_ul=26_000_000,
        in_ul=1_000_000_000,
    )


@pytest.fixture
def enquiry(staff: Person) -> Enquiry:
    run(staff)
    return open_about(about())


def spillage(pure_ul: int = 48_000_000, **other: object) -> Proposal:
    values: dict[str, object] = {
        "ending": Ending.LOSS,
        "checked": "The tank room floor was wet under the pump; the seal was cracked.",
        "reason": "The seal of the transfer pump failed.",
        "cause": "spillage",
        "happened_at": at(0),
        "product": "new spirit",
        "pure_ul": pure_ul,
        "percent": 70.0,
    }
    return Proposal(**(values | other))  # type: ignore[arg-type]


# -- opening


def test_one_fault_has_one_enquiry(enquiry: Enquiry) -> None:
    assert enquiry.number == "EQ0001"
    assert open_about(about()) == enquiry
    assert Enquiry.objects.count() == 1
    assert standing_of(enquiry).state == State.OPEN
    assert state_of([enquiry.key, "another"]) == {enquiry.key: "open"}
    assert unanswered(PERIOD) == [enquiry]
    assert unanswered("2027-04") == []


def test_numbers_run_on_without_gaps(enquiry: Enquiry, staff: Person) -> None:
    run(staff, "SR0002", hours=24)
    assert open_about(about("SR0002")).number == "EQ0002"
    run(staff, "SR0003", hours=48)
    assert open_by_hand("spirit run", "SR0003", person=staff, why="The still boiled over.").number == "EQ0003"


def test_a_person_opens_one_on_a_record_with_what_is_to_be_looked_into(staff: Person) -> None:
    with pytest.raises(Unanswerable, match="Nothing of SR0001 is in the books"):
        open_by_hand("spirit run", "SR0001", person=staff, why="Smelt of spirit.")
    run(staff)
    with pytest.raises(Unanswerable, match="Why is blank"):
        open_by_hand("spirit run", "SR0001", person=staff, why=" ")
    opened = open_by_hand("spirit run", "SR0001", person=staff, why="Smelt of spirit at the receiver.")
    assert (opened.opened_by, opened.said, opened.period) == (staff, "Smelt of spirit at the receiver.", PERIOD)
    assert open_by_hand("spirit run", "SR0001", person=staff, why="The floor is wet too.") == opened
    assert [event.text for event in history(opened)] == ["The floor is wet too."]


def test_an_officer_writes_nothing(enquiry: Enquiry, officer: Person, manager: Person) -> None:
    with pytest.raises(Unanswerable, match="may read but not write"):
        open_by_hand("spirit run", "SR0001", person=officer, why="Looks odd.")
    with pytest.raises(Unanswerable, match="may read but not write"):
        note(enquiry, What.NOTE, "Seen.", person=officer)
    propose(enquiry, spillage(), person=manager)
    with pytest.raises(Unanswerable, match="cannot agree"):
        agree(enquiry, second=officer)


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


def test_a_cause_that_is_not_found_posts_nothing_and_is_named_in_the_register(
    enquiry: Enquiry, staff: Person, manager: Person
) -> None:
    before = Movement.objects.count()
    ending = Proposal(Ending.NOT_FOUND, checked="All gauges taken again.", reason="Nothing was found.")
    propose(enquiry, ending, person=manager)
    agree(enquiry, second=staff)
    assert Movement.objects.count() == before
    assert standing_of(enquiry).in_words == "answered: cause not found"
    assert unanswered(PERIOD) == []
    register = loss_register(PERIOD)
    assert [one.enquiry for one in register.not_found] == [enquiry]
    assert register.open_missing_ul == 48_000_000


def test_losses_and_gains_are_set_off_only_when_tied_with_a_reason(
    enquiry: Enquiry, staff: Person, manager: Person
) -> None:
    set_off = Proposal(Ending.SET_OFF, checked="Both dips on the log.", reason="One dip stood in both.")
    with pytest.raises(Unanswerable, match="Tie it with the other enquiry first"):
        propose(enquiry, set_off, person=staff)
    run(staff, "SR0002", gives=1040, hours=24)
    gain = open_about(about("SR0002", -42_000_000))
    with pytest.raises(Unanswerable, match="Reason is blank"):
        tie(enquiry, gain, person=staff, reason="")
    with pytest.raises(Unanswerable, match="cannot be tied with itself"):
        tie(enquiry, enquiry, person=staff, reason="Same.")
    run(staff, "SR0003", hours=48)
    with pytest.raises(Unanswerable, match="nothing to set off"):
        tie(enquiry, open_about(about("SR0003")), person=staff, reason="Both short.")
    tie(enquiry, gain, person=staff, reason="The dip of the first run was written in the second.")
    propose(enquiry, set_off, person=staff)
    agree(enquiry, second=manager)
    assert standing_of(enquiry).in_words == "answered: set off against EQ0002"
    assert standing_of(gain).in_words == "answered: set off against EQ0001"
    register = loss_register(PERIOD)
    assert (register.open_missing_ul, register.open_extra_ul) == (96_000_000, -42_000_000), "listed apart"


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


# -- the register


def test_the_register_agrees_with_the_month_account(enquiry: Enquiry, staff: Person, manager: Person) -> None:
    propose(enquiry, spillage(30_000_000), person=staff)
    agree(enquiry, second=manager)
    run(staff, "SR0002", gives=996, hours=24)
    register, account = loss_register(PERIOD), month_account(PERIOD)
    assert {cause: lost + back for cause, lost, back in register.by_cause()} == dict(account.losses)
    stages = {line.stage: line.loss_ul for line in account.stages if line.loss_ul}
    assert {stage: lost + back for stage, lost, back in register.by_stage()} == stages
    assert register.difference_ul == account.site.difference_ul
    # The second run leaves 2 litres, and no enquiry is about it.
    assert (register.within_count, register.within_missing_ul) == (1, 2_000_000)
    [line] = register.differences
    assert (line.left_ul, line.explained_ul, line.open_ul) == (48_000_000, 30_000_000, 18_000_000)
    explained = next(line for line in register.losses if line.enquiry)
    assert (explained.cause, explained.enquiry) == ("spillage", "EQ0001")
    assert explained.persons == (staff.shown_name, manager.shown_name)
    assert explained.percent20 == pytest.approx(70.0, abs=0.01)
    assert explained.litres20 == pytest.approx(30 / 0.7, abs=0.01)


def test_the_register_leaves_out_what_was_taken_back_within_the_month(
    enquiry: Enquiry, staff: Person, manager: Person
) -> None:
    propose(enquiry, spillage(), person=staff)
    agree(enquiry, second=manager)
    reopen(enquiry, person=manager, reason="Wrong vessel.")
    register = loss_register(PERIOD)
    assert [line.cause for line in register.losses] == ["spent lees"]
    assert {cause: lost + back for cause, lost, back in register.by_cause()} == dict(month_account(PERIOD).losses)


def test_the_register_as_text(enquiry: Enquiry, staff: Person, manager: Person) -> None:
    propose(enquiry, spillage(), person=staff)
    agree(enquiry, second=manager)
    lines = as_csv(loss_register(PERIOD)).splitlines()
    assert lines[0].startswith("what,happened_at,written_at,record,operation,product,cause,litres20,percent20,lpa")
    spilt = next(line for line in lines if ",spillage," in line and line.startswith("known loss"))
    assert ",68.57,70.00,48.0000," in spilt
    assert "EQ0001" in spilt


# -- kept as written


def test_what_was_written_is_never_changed(enquiry: Enquiry, staff: Person) -> None:
    event = note(enquiry, What.NOTE, "Asked the night shift.", person=staff)
    for change in (
        lambda: Enquiry.objects.filter(pk=enquiry.pk).update(said="Nothing."),
        lambda: EnquiryEvent.objects.filter(pk=event.pk).update(text="Something else."),
        lambda: EnquiryEvent.objects.filter(pk=event.pk).delete(),
    ):
        with pytest.raises(DatabaseError, match="keeps what was written"), transaction.atomic():
            change()
    assert history(enquiry)[0].text == "Asked the night shift."


def test_small_words_are_not_left_blank(enquiry: Enquiry, staff: Person) -> None:
    for what in (What.NOTE, What.CHECKED, What.ASKED, What.CAUSE):
        with pytest.raises(Unanswerable, match="blank"):
            note(enquiry, what, "  ", person=staff)
        note(enquiry, what, "The receiver, with the rod.", person=staff)
    assert standing_of(enquiry).state == State.OPEN
    assert [event.serial for event in history(enquiry)] == [1, 2, 3, 4]


def test_unanswered_come_first_in_a_month(enquiry: Enquiry, staff: Person, manager: Person) -> None:
    run(staff, "SR0002", hours=24)
    second = open_about(about("SR0002"))
    propose(enquiry, spillage(), person=staff)
    agree(enquiry, second=manager)
    assert [one.enquiry for one in of_period(PERIOD)] == [second, enquiry]


def test_an_explanation_is_refused_when_the_difference_has_gone_meanwhile(
    enquiry: Enquiry, staff: Person, manager: Person
) -> None:
    propose(enquiry, spillage(), person=staff)
    movement = Movement.objects.get(record_number="SR0001")
    posting.correct([movement], [], person=staff, reason="The run never happened.")
    with pytest.raises((Unanswerable, Refused), match="No difference is left"):
        agree(enquiry, second=manager)


# -- and the closing of the month


def test_a_month_closes_only_when_every_enquiry_is_answered(enquiry: Enquiry, staff: Person, manager: Person) -> None:
    def ask() -> CloseRequest:
        return service.ask(PERIOD, person=manager, remark="All vessels were gauged.", now=at(24 * 60))

    with pytest.raises(service.CannotClose) as refused:
        ask()
    assert "EQ0001" in str(refused.value)
    propose(enquiry, spillage(), person=staff)
    with pytest.raises(service.CannotClose):
        ask()
    agree(enquiry, second=manager)
    service.agree(ask(), person=staff, now=at(24 * 60))

    with pytest.raises(Unanswerable, match="is closed with this answer"):
        reopen(enquiry, person=manager, reason="Too late.")
    frozen = month_account(PERIOD)
    later = open_by_hand("spirit run", "SR0001", person=staff, why="Two litres of lees were never drawn off.")
    assert later.period == "2027-04"
    assert unanswered("2027-04") == [later]
    with pytest.raises(Unanswerable, match="No difference is left"):
        propose(later, spillage(1_000_000), person=staff)
    propose(later, Proposal(Ending.RIGHT, checked="The log.", reason="They were drawn."), person=staff)
    agree(later, second=manager)
    assert month_account(PERIOD) == frozen
    assert unanswered("2027-04") == []
