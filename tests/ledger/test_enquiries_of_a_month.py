"""Enquiries of the invented month: opened by the program, put right by a correction, found again, opened again."""

from __future__ import annotations

import json
from dataclasses import replace
from io import StringIO

import pytest
from django.core.management import call_command

from batches.models import Record
from batches.records import recording
from distillery import signed
from distillery.people.models import Person
from ledger.comparing.findings.finding import ENQUIRY
from ledger.comparing.findings.unlike import unlike_findings
from ledger.comparing.model.kinds.deviations import deviations_in
from ledger.comparing.month import findings
from ledger.enquiries import raising, state_of, unanswered
from ledger.enquiries.answering import Proposal, agree, propose, reopen
from ledger.enquiries.balance import open_of
from ledger.enquiries.following import deferred, to_be_compared
from ledger.enquiries.models import Ending, Enquiry, What
from ledger.enquiries.raising import bring_up_to_date
from ledger.enquiries.register import loss_register
from ledger.enquiries.seen import ending_as_seen
from ledger.enquiries.standing import State, history, standing_of
from ledger.models import Movement
from ledger.statements.month import month_account

PERIOD = "2027-03"
# The slip that was put into the invented month: the receiver's dip of one spirit run, a hundred millimetres short.
SLIP, WRITTEN, RIGHT = "SR0007", "827", "927"
# The regauge that finds the leaking cask.
CASK = "RG0007"


def about(record: str) -> Enquiry:
    return Enquiry.objects.get(record_number=record, period=PERIOD)


def put_dip(value: str, person: Person) -> None:
    put_right(SLIP, "spirit_after_dip_mm", value, person)


def put_right(record: str, field: str, value: str, person: Person) -> None:
    recording.correct(Record.objects.get(number=record), {field: value}, person=person, reason="Read again.")


def answer(enquiry: Enquiry, cause: str, first: Person, second: Person) -> None:
    """All that is open, as a known loss."""
    ending = Proposal(
        Ending.LOSS,
        checked="Looked at.",
        reason="Seen to be so.",
        cause=cause,
        happened_at=enquiry.happened_at,
        product="spirit",
        pure_ul=open_of(enquiry).open_ul,
        percent=60.0,
    )
    propose(enquiry, ending, person=first)
    agree(enquiry, second=second)


@pytest.mark.usefixtures("loaded_month")
class TestTheMonth:
    def test_the_program_opened_one_for_each_finding_that_has_to_be_answered(self) -> None:
        asked = {one.key for one in findings(PERIOD) if one.kind == ENQUIRY}
        assert {one.key for one in Enquiry.objects.all()} == asked
        assert all(one.opened_by is None for one in Enquiry.objects.all())
        assert {SLIP, "WR0012", "RG0007"} <= {one.record_number for one in Enquiry.objects.all()}
        assert {one.number for one in unanswered(PERIOD)} == {one.number for one in Enquiry.objects.all()}

    def test_nothing_new_is_opened_when_the_month_is_gone_through_again(self) -> None:
        before = Enquiry.objects.count()
        bring_up_to_date(PERIOD)
        assert Enquiry.objects.count() == before
        assert history(about(SLIP)) == []

    def test_a_correction_puts_it_right_and_says_so(self, manager: Person) -> None:
        enquiry, others = about(SLIP), Enquiry.objects.exclude(record_number=SLIP)
        put_dip(RIGHT, manager)
        assert standing_of(enquiry).state == State.PUT_RIGHT
        [event] = history(enquiry)
        assert (event.what, event.person, event.record) == (What.PUT_RIGHT, None, SLIP)
        assert state_of([enquiry.key]) == {enquiry.key: "put right by a correction"}
        assert {standing_of(one).state for one in others} == {State.OPEN}

    def test_where_a_loss_explains_it_as_well_a_correction_waits_for_a_second_person(
        self, manager: Person, staff: Person
    ) -> None:
        """The light cask: a slip of its weight or a leak. Only the cask can tell, so one person does not decide."""
        enquiry = about("RG0007")
        [finding] = [one for one in findings(PERIOD) if one.key == enquiry.key]
        assert finding.may_be_loss
        [slip] = [one for one in finding.lines[0].causes if (one.record, one.field) == ("RG0007", "gross_kg")]
        regauge = Record.objects.get(number="RG0007")
        recording.correct(regauge, {"gross_kg": slip.would_be}, person=staff, reason="Weighed again.")
        standing = standing_of(enquiry)
        assert standing.state == State.WAITING
        assert enquiry in unanswered(PERIOD)
        bring_up_to_date(PERIOD)
        assert standing_of(enquiry).state == State.WAITING
        assert standing.decided is not None
        shown = ending_as_seen(enquiry, standing.decided)
        assert "RG0007, Weighed again." in shown["Correction of"]
        recording.correct(regauge, {"gross_kg": "213.8"}, person=staff, reason="And again.")
        with pytest.raises(signed.MovedOn):
            agree(enquiry, second=manager, seen=signed.digest_of(shown))
        agree(enquiry, second=manager)
        assert standing_of(enquiry).state == State.PUT_RIGHT

    def test_the_slip_made_again_opens_the_same_enquiry_again(self, manager: Person) -> None:
        enquiry = about(SLIP)
        put_dip(RIGHT, manager)
        put_dip(WRITTEN, manager)
        assert [event.what for event in history(enquiry)] == [What.PUT_RIGHT, What.FOUND_AGAIN]
        assert standing_of(enquiry).state == State.OPEN
        assert about(SLIP) == enquiry

    def test_an_explanation_that_a_correction_belies_is_opened_again(self, manager: Person, staff: Person) -> None:
        enquiry = about(SLIP)
        ending = Proposal(
            Ending.LOSS,
            checked="The floor.",
            reason="Thought to be a spill.",
            cause="spillage",
            happened_at=enquiry.happened_at,
            product="new spirit",
            pure_ul=open_of(enquiry).open_ul,
            percent=70.0,
        )
        propose(enquiry, ending, person=staff)
        agree(enquiry, second=manager)
        assert dict(month_account(PERIOD).losses)["spillage"] > 190_000_000
        put_dip(RIGHT, manager)
        assert standing_of(enquiry).state == State.OPEN
        assert "Take the explanation back" in history(enquiry)[-1].text
        reopen(enquiry, person=manager, reason="It was the dip.")
        account = month_account(PERIOD)
        assert "spillage" not in dict(account.losses)
        assert account.foots
        assert loss_register(PERIOD).difference_ul == account.site.difference_ul

    def test_an_answer_takes_the_finding_away(self, manager: Person, staff: Person) -> None:
        enquiry = about(SLIP)
        ending = Proposal(
            Ending.LOSS,
            checked="The floor.",
            reason="A spill.",
            cause="spillage",
            happened_at=enquiry.happened_at,
            product="new spirit",
            pure_ul=open_of(enquiry).open_ul,
            percent=70.0,
        )
        propose(enquiry, ending, person=staff)
        agree(enquiry, second=manager)
        assert standing_of(enquiry).state == State.ANSWERED
        assert enquiry not in unanswered(PERIOD)
        assert enquiry.key not in {one.key for one in findings(PERIOD)}
        # The next gauge had found the same alcohol again: said to be lost, it has to be answered for as a gain.
        [gain] = [one for one in unanswered(PERIOD) if one.operation == "gauging of SR"]
        assert gain.difference_ul < -190_000_000
        reopen(enquiry, person=manager, reason="The next gauge found it again.")
        assert standing_of(gain).state == State.GONE
        assert enquiry.number in [event.other.number for event in history(gain) if event.other]

    def test_answering_a_casks_loss_opens_nothing_else_about_the_same_loss(
        self, manager: Person, staff: Person
    ) -> None:
        enquiry, before = about(CASK), Enquiry.objects.count()
        answer(enquiry, "evaporation in cask", staff, manager)
        bring_up_to_date(PERIOD)
        assert Enquiry.objects.count() == before
        assert CASK not in {one.record_number for one in unanswered(PERIOD)}
        assert CASK not in {one.record for one in findings(PERIOD)}
        # Taken back, it is the same enquiry that has to be answered again.
        reopen(enquiry, person=manager, reason="The head was dry when it was looked at.")
        assert [one.number for one in unanswered(PERIOD) if one.record_number == CASK] == [enquiry.number]
        assert Enquiry.objects.count() == before

    def test_a_figure_that_restates_its_operation_is_about_the_same_fact(self) -> None:
        figures = [one for one in deviations_in(PERIOD) if one.record == CASK]
        loss = next(one for one in figures if one.name == "loss a year")
        fall = next(one for one in figures if one.name == "fall in strength a year")
        assert (loss.restates, loss.is_reading, fall.restates, fall.is_reading) == (True, False, False, False)
        [found] = unlike_findings([replace(loss, z=9.0)], [])
        assert found.key == about(CASK).key
        # A loss a year in per cent is no gross weight in kilograms: nothing is suggested for that column.
        assert [(one.written, one.would_be) for one in found.likely] == [("", "")]
        [other] = unlike_findings([replace(fall, z=9.0)], [], explained={CASK})
        assert other.key != about(CASK).key, "a fall in strength is another fact, and a loss does not explain it"

    @pytest.mark.parametrize("record", [SLIP, "WR0012", "RG0007"])
    def test_a_reading_put_right_leaves_what_it_was_said_to_leave(self, record: str, manager: Person) -> None:
        found = next(one for one in findings(PERIOD) if one.record == record)
        cause = next(one for one in found.likely if one.would_be)
        put_right(cause.record, cause.field, cause.would_be, manager)
        left = open_of(about(record)).left_ul / 1e6
        assert left == pytest.approx(cause.leaves_lpa, abs=0.02)

    def test_a_loss_at_a_cask_leaves_nothing_as_its_difference_leaves_evaporation_out(self) -> None:
        [found] = [one for one in findings(PERIOD) if one.record == CASK]
        losses = [one for one in found.likely if "alcohol lost" in one.cause]
        assert [one.leaves_lpa for one in losses] == [0.0]

    def test_many_records_are_gone_through_once_at_the_end(self, manager: Person) -> None:
        enquiry = about(SLIP)
        with deferred():
            put_dip(RIGHT, manager)
            assert history(enquiry) == [], "put off"
        assert [event.what for event in history(enquiry)] == [What.GONE]

    def test_an_entry_is_kept_when_it_cannot_be_compared(
        self, manager: Person, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
    ) -> None:
        def broken(period: str) -> None:
            raise ZeroDivisionError

        monkeypatch.setattr(raising, "findings", broken)
        put_dip(RIGHT, manager)
        assert "could not be compared after an entry; the entry itself is kept" in caplog.text
        assert history(about(SLIP)) == []
        monkeypatch.undo()
        bring_up_to_date(PERIOD)
        assert [event.what for event in history(about(SLIP))] == [What.GONE]

    def test_what_wrote_nothing_raises_nothing(self) -> None:
        last = Movement.objects.order_by("-pk").values_list("pk", flat=True)[0]
        to_be_compared(last)
        assert history(about(SLIP)) == []

    def test_the_command_says_how_each_stands(self, manager: Person) -> None:
        said = StringIO()
        propose(about(SLIP), Proposal(Ending.NOT_FOUND, checked="All gauges.", reason="Nothing found."), person=manager)
        call_command("findings", "--period", PERIOD, "--json", stdout=said)
        states = {one["record"]: one["state"] for one in json.loads(said.getvalue())}
        assert states[SLIP] == "waiting for a second person"
        assert states["WR0012"] == "open"

    def test_the_register_of_the_month_agrees_with_its_account(self) -> None:
        register, account = loss_register(PERIOD), month_account(PERIOD)
        assert {cause: lost + back for cause, lost, back in register.by_cause()} == dict(account.losses)
        assert register.lost_ul + register.gained_ul == account.site.loss_ul
        assert register.difference_ul == account.site.difference_ul
        assert {line.record for line in register.differences} >= {SLIP, "WR0012", "RG0007"}
        pot_ale = next(line for line in register.losses if line.cause == "pot ale")
        assert pot_ale.percent20 is not None
        assert pot_ale.percent20 < 0.3
