"""What lasts over many runs is enquired into and answered as a whole, and every run's month and stage foots.

The invented month has a loss of a lasting share at the spirit still; the rest are figures of its own findings.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, datetime

import pytest
from django.db.backends.base.base import BaseDatabaseWrapper
from django.test import Client
from hypothesis import given
from hypothesis import strategies as st
from pypdf import PdfReader

from batches.models import Record
from batches.records import recording
from batches.records.versions import newest, typed_of
from distillery.people.models import Person
from ledger.comparing.findings.finding import WATCH, Finding
from ledger.comparing.month import findings
from ledger.enquiries import raising, unanswered
from ledger.enquiries.answering import Proposal, agree, propose, reopen
from ledger.enquiries.balance import open_of
from ledger.enquiries.covering import covered, divided, shares
from ledger.enquiries.models import Ending, Enquiry, What
from ledger.enquiries.opening import Unanswerable
from ledger.enquiries.raising import bring_up_to_date
from ledger.enquiries.register import loss_register
from ledger.enquiries.standing import State, history, standing_of, state_of
from ledger.enquiries.whole import open_whole
from ledger.models import Movement, MovementKind
from ledger.periods import service
from ledger.proof.proving import prove
from ledger.statements.month import month_account
from tests.people import somebody
from tests.ready_databases import FilledOnce, standing_in

PERIOD, NEXT = "2027-03", "2027-04"
LATER = datetime(2027, 6, 1, tzinfo=UTC)
WHY = "The condenser is looked at."

Browser = Callable[[Person], Client]


def watch() -> Finding:
    (one,) = [one for one in findings(PERIOD) if one.kind == WATCH]
    return one


def loss(enquiry: Enquiry, pure_ul: int | None = None) -> Proposal:
    return Proposal(
        Ending.LOSS,
        checked="The condenser; its cooling water smelt of spirit.",
        reason="A tube had a pinhole.",
        cause="spillage",
        happened_at=enquiry.happened_at,
        product="new spirit",
        pure_ul=open_of(enquiry).open_ul if pure_ul is None else pure_ul,
        percent=70.0,
    )


def _open() -> None:
    open_whole(watch(), person=somebody("test-staff", "staff"), why=WHY)


@pytest.fixture(scope="module")
def _opened_database(filled_once: FilledOnce) -> BaseDatabaseWrapper:
    return filled_once("month_watch_opened", _open, on_the_month=True)


@pytest.fixture(scope="class")
def _opened_stands(_opened_database: BaseDatabaseWrapper) -> Iterator[None]:
    with standing_in(_opened_database):
        yield


@pytest.fixture
def opened(_opened_stands: None, db: None) -> Enquiry:
    return Enquiry.objects.get(kind=WATCH)


def test_it_is_about_the_whole_since_its_first_run(opened: Enquiry) -> None:
    found = watch()
    assert (opened.key, opened.kind, opened.period) == (found.key, WATCH, PERIOD)
    assert [run.record_number for run in covered(opened)] == [run.record for run in found.runs]
    assert set(found.under) <= {run.record_number for run in covered(opened)}
    assert open_of(opened).open_ul == found.difference_ul == found.total_ul
    note, runs = history(opened)
    assert (note.what, note.text, runs.what) == (What.NOTE, WHY, What.COVERS)
    assert f"{len(found.runs)} runs" in runs.text
    assert state_of([found.key]) == {found.key: "open"}
    assert opened in unanswered(PERIOD)


def test_opened_again_it_is_the_same_one(opened: Enquiry, manager: Person) -> None:
    assert open_whole(watch(), person=manager, why="The vapour pipe too.") == opened
    bring_up_to_date(PERIOD)
    assert [event.what for event in history(opened)].count(What.COVERS) == 1, "nothing of it has changed"


def test_a_share_of_each_run_goes_by_what_went_in_and_is_in_its_difference(opened: Enquiry) -> None:
    amount = open_of(opened).open_ul
    parts = shares(opened, amount)
    assert sum(one.pure_ul for one in parts) == amount
    assert {one.account for one in parts} == {"difference:spirit run"}
    each = {one.run.record_number: one.pure_ul / one.run.charge_ul for one in parts}
    assert max(each.values()) - min(each.values()) < 0.002, "much the same share of each charge"


def test_answered_as_a_known_loss_each_run_bears_its_share_and_all_foots(
    opened: Enquiry, staff: Person, manager: Person
) -> None:
    before, amount, key = month_account(PERIOD), open_of(opened).open_ul, watch().key
    propose(opened, loss(opened), person=staff)
    agree(opened, second=manager)
    after = month_account(PERIOD)
    assert dict(after.losses)["spillage"] - dict(before.losses).get("spillage", 0) == amount
    assert before.site.difference_ul - after.site.difference_ul == amount
    assert after.foots
    posted = Movement.objects.filter(kind=MovementKind.EXPLANATION, moment=opened.number)
    assert {one.record_number for one in posted} == {run.record_number for run in covered(opened)}
    assert {(one.person, one.second) for one in posted} == {(staff, manager)}
    runs = {run.record_number: run.happened_at for run in covered(opened)}
    assert {one.record_number: one.happened_at for one in posted} == runs
    assert standing_of(opened).state == State.ANSWERED
    assert (open_of(opened).open_ul, open_of(opened).explained_ul) == (0, amount)
    # What is explained is lost no more: the charts are quiet, and nothing else is opened over it.
    assert key not in {one.key for one in findings(PERIOD)}
    register = loss_register(PERIOD)
    assert register.difference_ul == after.site.difference_ul
    [line] = [one for one in register.differences if one.standing.enquiry == opened]
    assert (line.left_ul, line.explained_ul, line.open_ul) == (amount, amount, 0)
    assert prove().broken == []


def test_taken_back_it_is_open_again_over_all_runs(opened: Enquiry, staff: Person, manager: Person) -> None:
    before = month_account(PERIOD)
    propose(opened, loss(opened), person=staff)
    agree(opened, second=manager)
    reopen(opened, person=manager, reason="It was the hydrometer.")
    assert month_account(PERIOD).losses == before.losses
    assert month_account(PERIOD).site == before.site
    assert standing_of(opened).state == State.OPEN
    assert open_of(opened).explained_ul == 0


def test_explained_in_part_it_stays_open_for_the_rest(opened: Enquiry, staff: Person, manager: Person) -> None:
    amount = open_of(opened).open_ul
    propose(opened, loss(opened, amount // 5), person=staff)
    agree(opened, second=manager)
    assert standing_of(opened).state == State.OPEN
    assert [event.text[:8] for event in history(opened) if event.what == What.FOUND_AGAIN] == ["It lasts"]
    left = open_of(opened)
    assert left.explained_ul == amount // 5
    assert left.open_ul == amount - amount // 5
    bring_up_to_date(PERIOD)
    assert open_of(opened) == left, "it is not estimated anew while nothing joined it and nothing was corrected"
    with pytest.raises(Unanswerable, match="give at most what is open"):
        propose(opened, loss(opened, amount), person=staff)


@pytest.mark.parametrize("ending", [Ending.NOT_FOUND, Ending.MEASURING, Ending.RIGHT])
def test_the_other_endings_post_nothing_and_stand(
    opened: Enquiry, staff: Person, manager: Person, ending: Ending
) -> None:
    before = month_account(PERIOD)
    propose(opened, Proposal(ending, checked="All instruments.", reason="As said."), person=staff)
    with pytest.raises(Unanswerable, match="someone else has to agree"):
        agree(opened, second=staff)
    agree(opened, second=manager)
    bring_up_to_date(PERIOD)
    assert standing_of(opened).state == State.ANSWERED
    assert month_account(PERIOD) == before
    assert state_of([watch().key])[watch().key].startswith("answered")


def test_a_watch_of_a_closed_month_is_answered_in_the_next_run_by_run(
    loaded_month: object, staff: Person, manager: Person
) -> None:
    for enquiry in unanswered(PERIOD):
        propose(enquiry, Proposal(Ending.NOT_FOUND, checked="All gauges.", reason="Nothing found."), person=staff)
        agree(enquiry, second=manager)
    asked = service.ask(PERIOD, person=manager, remark="As counted.", now=LATER)
    service.agree(asked, person=staff, now=LATER)
    march, enquiry = month_account(PERIOD), open_whole(watch(), person=staff, why=WHY)
    assert (enquiry.period, unanswered(NEXT)) == (NEXT, [enquiry])
    amount = open_of(enquiry).open_ul
    propose(enquiry, loss(enquiry), person=staff)
    agree(enquiry, second=manager)
    posted = Movement.objects.filter(kind=MovementKind.EXPLANATION, moment=enquiry.number)
    assert {one.period for one in posted} == {NEXT}
    assert {one.true_at for one in posted} == {run.happened_at for run in covered(enquiry)}
    assert month_account(PERIOD).site == march.site
    april = month_account(NEXT)
    assert dict(april.losses)["spillage"] == amount == -april.site.difference_ul
    assert april.foots
    assert loss_register(NEXT).difference_ul == april.site.difference_ul


@pytest.mark.usefixtures("loaded_month")
def test_its_pages_from_the_finding_to_the_answer(browser_of: Browser, staff: Person, manager: Person) -> None:
    found, client = watch(), browser_of(staff)
    page = client.get(f"/books/findings/{PERIOD}/{found.record}/").content.decode()
    assert f"Open an enquiry on all {len(found.runs)} runs" in page
    new = f"/books/enquiries/new/{found.record_kind}/{found.record}/?whole={found.key.replace(' ', '%20')}"
    form = client.get(new).content.decode()
    assert "answered as a whole" in form
    assert "Why is blank" in client.post(new, {"words": ""}).content.decode()
    page = client.post(new, {"words": WHY}, follow=True).content.decode()
    enquiry = Enquiry.objects.get(key=found.key)
    assert f"{enquiry.number}: spirit run, {len(found.runs)} runs" in page
    assert "Runs it covers" in page
    # The evidence is that of all its runs: readings of each, and the newest in the chart of the runs before.
    readings, rest = page.split("What was measured", 1)[1], page
    for run in found.runs:
        assert run.record in readings
    assert f">{found.runs[-1].record}<" in rest[rest.index("Spirit run: the last") :]
    listed = client.get(f"/books/findings/?month={PERIOD}").content.decode()
    listed = listed[listed.index("Small losses that lean one way") :]
    assert f"{enquiry.number} open" in listed
    assert "no enquiry" not in listed.replace('value="no enquiry"', "")
    form = client.get(f"/books/enquiries/{enquiry.number}/propose/").content.decode()
    assert f'value="{open_of(enquiry).open_ul / 1e6:.4f}"' in form
    printed = client.get(f"/books/enquiries/{enquiry.number}/enquiry.pdf").content
    text = "\n".join(one.extract_text() for one in PdfReader(io.BytesIO(printed)).pages)
    assert all(run.record in text for run in found.runs)


@given(
    st.integers(0, 10**12),
    st.lists(st.tuples(st.integers(0, 10**10), st.integers(0, 10**11)), min_size=1, max_size=12),
)
def test_an_amount_is_shared_out_to_the_last_microlitre(amount: int, runs: list[tuple[int, int]]) -> None:
    weights, most = {key: one[0] for key, one in enumerate(runs)}, {key: one[1] for key, one in enumerate(runs)}
    parts = divided(amount, weights, most)
    assert sum(parts.values()) == min(amount, sum(most.values()))
    assert all(0 <= parts[key] <= most[key] for key in parts)


def test_shares_go_by_weight_and_what_one_cannot_take_goes_to_the_others() -> None:
    assert divided(100, {1: 1, 2: 3}, {1: 1000, 2: 1000}) == {1: 25, 2: 75}
    assert divided(100, {1: 1, 2: 3}, {1: 1000, 2: 30}) == {1: 70, 2: 30}
    assert divided(10, {1: 1, 2: 1, 3: 1}, {1: 100, 2: 100, 3: 100}) == {1: 3, 2: 3, 3: 4}


def test_it_goes_with_the_watch_and_takes_in_the_runs_that_follow(
    opened: Enquiry, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = watch()

    def shown(*those: Finding) -> None:
        monkeypatch.setattr(raising, "findings", lambda period: list(those))
        bring_up_to_date(PERIOD)

    fewer = replace(found, runs=found.runs[:-2], difference_ul=found.difference_ul - 20_000_000)
    shown(fewer)
    assert len(covered(opened)) == len(found.runs), "nothing joined, so what was written down stands"
    shown()
    assert standing_of(opened).state == State.GONE
    grown = replace(found, runs=(*found.runs, replace(found.runs[-1], record="SR0099")), difference_ul=140_000_000)
    shown(grown)
    assert standing_of(opened).state == State.OPEN
    assert covered(opened)[-1].record_number == "SR0099"
    assert open_of(opened).left_ul == 140_000_000


def test_a_run_put_right_changes_what_it_is_about(opened: Enquiry, staff: Person) -> None:
    run, amount = covered(opened)[-1], open_of(opened).left_ul
    record = Record.objects.get(number=run.record_number)
    dip = int(typed_of(newest(record))[0]["spirit_after_dip_mm"])
    recording.correct(record, {"spirit_after_dip_mm": str(dip - 5)}, person=staff, reason="Read again.")
    assert standing_of(opened).state == State.OPEN
    assert [event.what for event in history(opened)].count(What.COVERS) == 2
    # Some ten litres more are missing in one run of eleven: the share of all of them grows.
    assert open_of(opened).left_ul > amount
