"""Enquiries: opened once for one fault, answered by two people, posted to the books, opened again.

The plant and all figures are invented and worked by hand: a run takes 1,000 litres of pure alcohol from a vat that
held them, gives 950 to a receiver, and leaves 50 as its difference.
"""

from __future__ import annotations

import pytest
from django.db import DatabaseError, transaction

from distillery.people.models import Person
from ledger.enquiries import state_of, unanswered
from ledger.enquiries.answering import (
    Proposal,
    agree,
    note,
    propose,
    reopen,
    tie,
)
from ledger.enquiries.models import Ending, Enquiry, EnquiryEvent, What
from ledger.enquiries.opening import Unanswerable, open_about, open_by_hand
from ledger.enquiries.register import as_csv, loss_register
from ledger.enquiries.standing import State, history, of_period, standing_of
from ledger.models import Movement
from ledger.periods import service
from ledger.periods.models import CloseRequest
from ledger.statements.month import month_account
from tests.ledger.plant import at

from .enquired_run import PERIOD, _nothing_to_compare, about, enquiry, run, spillage

__all__ = ["_nothing_to_compare", "enquiry"]


pytestmark = pytest.mark.django_db


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
