"""What is put right or written late after a month was closed: where it is asked about, and where both months say it.

The invented month is closed with its enquiries answered as not found; then somebody puts a reading of March right, and
somebody writes a removal of March that was forgotten.
"""

from __future__ import annotations

import io
import re
from collections.abc import Callable, Iterator
from datetime import UTC, datetime

import pytest
from django.db.backends.base.base import BaseDatabaseWrapper
from django.test import Client
from pypdf import PdfReader

from batches.models import Record
from batches.records import recording
from batches.records.versions import newest, typed_of
from distillery.clock import reading
from distillery.clock.setting import days_until
from distillery.figures import lpa
from distillery.people.models import Person
from distillery.printing.documents.month_account import account_digest
from ledger.comparing.month import findings
from ledger.enquiries import unanswered
from ledger.enquiries.answering import Proposal, agree, propose
from ledger.enquiries.balance import by_period, open_of
from ledger.enquiries.models import Ending, Enquiry
from ledger.enquiries.register import loss_register
from ledger.enquiries.standing import State, of_period, standing_of
from ledger.periods import service
from ledger.periods.crossing import Crossing, crossings
from ledger.periods.readiness import not_ready
from ledger.statements.month import month_account
from ledger.statements.printed import month_account_sheet
from tests.people import somebody
from tests.ready_databases import FilledOnce, standing_in
from tests.signing import seen_on

pytestmark = pytest.mark.django_db

MARCH, APRIL = "2027-03", "2027-04"
LATER = datetime(2027, 6, 1, tzinfo=UTC)
# A run whose figures are in order: its receiver read a hundred millimetres lower leaves a good deal missing.
RUN = "SR0003"

Browser = Callable[[Person], Client]


def _close() -> None:
    staff, manager = somebody("test-staff", "staff"), somebody("test-manager", "manager")
    for enquiry in unanswered(MARCH):
        propose(enquiry, Proposal(Ending.NOT_FOUND, checked="All gauges.", reason="Nothing found."), person=staff)
        agree(enquiry, second=manager)
    asked = service.ask(MARCH, person=manager, remark="As counted.", now=LATER)
    service.agree(asked, person=staff, now=LATER)


@pytest.fixture(scope="module")
def _closed_database(filled_once: FilledOnce) -> BaseDatabaseWrapper:
    return filled_once("month_closed", _close, on_the_month=True)


@pytest.fixture(scope="class")
def closed(_closed_database: BaseDatabaseWrapper) -> Iterator[None]:
    with standing_in(_closed_database):
        yield


@pytest.fixture
def put_right(closed: None, staff: Person) -> Enquiry:
    """The dip of one receiver of March put a hundred millimetres lower in April; the enquiry that it opens."""
    record = Record.objects.get(number=RUN)
    written = int(typed_of(newest(record))[0]["spirit_after_dip_mm"])
    recording.correct(
        record, {"spirit_after_dip_mm": str(written - 100)}, person=staff, reason="Read again from the slip."
    )
    return Enquiry.objects.get(record_number=RUN)


def page_of(client: Client, period: str) -> str:
    return client.get(f"/books/months/{period}/").content.decode()


def text_of(client: Client, address: str) -> str:
    pdf = client.get(address).content
    return " ".join("\n".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages).split())


def test_the_form_says_before_saving_that_the_month_is_closed_and_where_it_is_carried(
    closed: None, browser_of: Browser, staff: Person
) -> None:
    page = browser_of(staff).get(f"/records/spirit_run/{RUN}/correct/").content.decode()
    assert "March 2027 is closed and its account stays as it is" in page
    assert "carried in April 2027 with its true time" in page
    page = browser_of(staff).get("/records/removal/new/").content.decode()
    assert "All before Thu 1 Apr 2027 00:00 is closed" in page
    page = browser_of(staff).get(f"/records/spirit_run/{RUN}/void/").content.decode()
    assert "March 2027 is closed" in page


@pytest.mark.usefixtures("loaded_month")
def test_no_form_speaks_of_closing_while_nothing_is_closed(browser_of: Browser, staff: Person) -> None:
    assert "is closed" not in browser_of(staff).get(f"/records/spirit_run/{RUN}/correct/").content.decode()
    assert crossings(MARCH) == []


def test_the_enquiry_stands_under_the_month_in_which_it_can_be_answered(
    put_right: Enquiry, browser_of: Browser, staff: Person, manager: Person
) -> None:
    assert (put_right.period, put_right.happened_at.month) == (APRIL, 3)
    assert unanswered(APRIL) == [put_right]
    assert unanswered(MARCH) == []
    for address in (f"/books/months/{APRIL}/", f"/books/findings/?month={APRIL}"):
        assert put_right.number in browser_of(staff).get(address).content.decode()
    [blocks] = [one for one in not_ready(APRIL, now=LATER) if one.must]
    assert put_right.number in blocks.sentence
    # It is looked at in the figures of March, where it truly happened.
    page = browser_of(staff).get(f"/books/enquiries/{put_right.number}/").content.decode()
    assert "All gauges on both sides" in page
    assert "under-declaration or over-declaration that refers to March 2027" in page
    # In the chart of the runs before, it stands in its true place: three runs there are, not all of March.
    assert "Spirit run: the last 3," in page
    assert put_right.key in {one.key for one in findings(MARCH)}


def test_account_and_register_and_enquiry_agree_on_the_amounts(put_right: Enquiry) -> None:
    for period in (MARCH, APRIL):
        account = month_account(period)
        assert account.foots
        assert loss_register(period).difference_ul == account.site.difference_ul
    [line] = loss_register(APRIL).differences
    [(march, in_march), (april, in_april)] = by_period(put_right)
    assert (march, april) == (MARCH, APRIL)
    assert (line.left_ul, line.earlier_ul) == (in_april, in_march)
    assert line.in_all_ul == open_of(put_right).left_ul == in_march + in_april
    assert in_april > 30_000_000


def test_both_months_say_what_crossed_with_the_same_amounts(
    put_right: Enquiry, browser_of: Browser, officer: Person
) -> None:
    (of_march,) = [one for one in crossings(MARCH) if one.record == RUN]
    assert [one for one in crossings(APRIL) if one.record == RUN] == [of_march]
    assert (of_march.of, of_march.into) == (MARCH, APRIL)
    assert of_march.difference_ul == dict(by_period(put_right))[APRIL]
    # All that April's account has of differences was carried into it.
    assert sum(one.difference_ul for one in crossings(APRIL)) == month_account(APRIL).site.difference_ul
    client, amount = browser_of(officer), lpa(of_march.difference_ul)
    march, april = page_of(client, MARCH), page_of(client, APRIL)
    for page, caption in ((march, "Written about this period since"), (april, "Carried into this period")):
        [row] = re.findall(rf"<tr>(?:(?!</tr>).)*{RUN}(?:(?!</tr>).)*</tr>", page[page.index(caption) :], re.DOTALL)[:1]
        assert amount in row
    for period, caption in ((MARCH, "Written since the close"), (APRIL, "Carried over a close")):
        printed = text_of(client, f"/books/months/{period}/account.pdf")
        assert RUN in printed[printed.index(caption) :]
        assert amount in printed[printed.index(caption) :]


def test_a_removal_written_late_is_shown_as_late_with_its_true_day(
    closed: None, browser_of: Browser, staff: Person
) -> None:
    product = Record.objects.filter(kind="removal", state="complete").first()
    assert product is not None
    typed, _ = typed_of(newest(product))
    recording.save("removal", None, typed | {"at": "2027-03-28T10:00", "bottles": "6"}, person=staff)
    april = page_of(browser_of(staff), APRIL)
    assert "of it late, truly Sun 28 Mar 2027 10:00" in april
    for page in (april, page_of(browser_of(staff), MARCH)):
        assert re.search(r"LPA, (£[0-9,.]+|duty not known), under-declared of March 2027", page)
    [line] = crossings(APRIL)
    assert sum(removed.pure_ul for removed in line.removals.values()) == line.out_ul == month_account(APRIL).site.out_ul
    assert "of it late, truly Sun 28 Mar 2027 10:00" in text_of(browser_of(staff), f"/books/months/{APRIL}/account.pdf")


def test_what_is_written_after_the_close_does_not_change_the_digest_of_the_closed_months_print(
    closed: None, staff: Person
) -> None:
    product = Record.objects.filter(kind="removal", state="complete").first()
    assert product is not None
    before = account_digest(month_account_sheet(month_account(MARCH)))
    typed, _ = typed_of(newest(product))
    recording.save("removal", None, typed | {"at": "2027-03-28T10:00", "bottles": "6"}, person=staff)
    sheet = month_account_sheet(month_account(MARCH))
    assert sheet.since_closed
    assert account_digest(sheet) == before


def test_an_answer_given_in_april_stands_in_aprils_register(put_right: Enquiry, staff: Person, manager: Person) -> None:
    left = open_of(put_right).open_ul
    ending = Proposal(
        Ending.LOSS,
        checked="The floor.",
        reason="Seen to run over.",
        cause="spillage",
        happened_at=put_right.happened_at,
        product="new spirit",
        pure_ul=left,
        percent=70.0,
    )
    propose(put_right, ending, person=staff)
    agree(put_right, second=manager)
    assert standing_of(put_right).state == State.ANSWERED
    register = loss_register(APRIL)
    [loss] = [one for one in register.losses if one.enquiry == put_right.number]
    # It was lost in March, and April's account bears it.
    assert (loss.at.month, loss.pure_ul) == (3, left)
    assert register.difference_ul == month_account(APRIL).site.difference_ul
    assert put_right.number in [one.enquiry.number for one in of_period(APRIL)]


def test_the_next_month_is_closed_on_pages_and_carries_on_from_the_one_before(
    closed: None, browser_of: Browser, staff: Person, manager: Person
) -> None:
    """A removal of April and a weight of March put right in April; April is closed by two people at two PCs, and May
    begins with what April came to. A weight put right after both closings is carried into May."""
    _clock_at(datetime(2027, 5, 3, 12, tzinfo=UTC))
    removal = Record.objects.filter(kind="removal", state="complete").earliest("pk")
    typed, _ = typed_of(newest(removal))
    sent = recording.save("removal", None, typed | {"at": "2027-04-12T10:00", "bottles": "6"}, person=staff, sure=True)
    carried = _weigh_lighter("RG0009", staff)
    assert (carried.of, carried.into) == (MARCH, APRIL)
    asks, agrees, page = browser_of(manager), browser_of(staff), f"/books/months/{APRIL}/close/"
    before = asks.get(page)
    assert "April 2027 is open and can be closed with a remark" in before.content.decode()
    asks.post(page, {"remark": "No stock was taken."} | seen_on(before))
    waits = agrees.get(page)
    done = agrees.post(page, {"request": str(waits.context["pending"].pk)} | seen_on(waits), follow=True)
    assert "April 2027 is closed" in done.content.decode()

    april, may = month_account(APRIL), month_account("2027-05")
    removed = sum(one.pure_ul for one in april.removals)
    assert removed == april.site.out_ul > 0
    assert april.site.opening_ul == month_account(MARCH).site.closing_ul, "as it was frozen"
    assert may.site.opening_ul == april.site.closing_ul
    assert sent.number in text_of(asks, f"/books/months/{APRIL}/account.pdf")
    again = _weigh_lighter("RG0010", staff)
    assert (again.of, again.into) == (MARCH, "2027-05")
    assert month_account(APRIL).site == april.site, "a closed month stays as it was"
    for period in (MARCH, "2027-05"):
        assert "RG0010" in page_of(asks, period)


def _clock_at(moment: datetime) -> None:
    """The books' clock stands at a moment until the end of the test."""
    reading._kept.days = days_until(moment)


def _weigh_lighter(number: str, person: Person) -> Crossing:
    """The full weight of a regauged cask put 0.2 kg lower; what that carries over the close."""
    record = Record.objects.get(number=number)
    gross = float(typed_of(newest(record))[0]["gross_kg"])
    recording.correct(record, {"gross_kg": f"{gross - 0.2:.1f}"}, person=person, reason="Read again from the sheet.")
    [line] = [one for one in crossings(MARCH) if one.record == number]
    return line
