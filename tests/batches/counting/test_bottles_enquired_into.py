"""Bottles that a count finds missing or over are looked into: a finding, an enquiry, a known loss in two hands.

Figures are worked by hand: one bottle of 70 cl at 40 % vol has 0.7 times 0.4 = 0.28 litres of pure alcohol.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date

import pytest
from django.test import Client

from batches.models import Record
from batches.records import recording
from batches.returns.losses import may_become_due
from batches.returns.months import span_of
from distillery.people.models import Person
from distillery.rules.models import ReviewThreshold
from ledger.comparing.findings.finding import COUNT, Finding
from ledger.comparing.month import findings as made_anew
from ledger.comparing.unaccounted import THE_BOOK
from ledger.enquiries.answering import Proposal, agree, propose
from ledger.enquiries.balance import by_period, open_of
from ledger.enquiries.figures_now import figures_now
from ledger.enquiries.likeliest.answer import answer_of
from ledger.enquiries.models import Ending, Enquiry
from ledger.enquiries.register import loss_register
from ledger.enquiries.standing import State, standing_of, unanswered
from ledger.kept.keeping import findings as kept
from ledger.proof.proving import prove
from ledger.statements.month import month_account

MARCH = "2027-03"
GIN = {"product": "Gin", "bottle_centilitres": "70", "label_percent": "40"}
BOTTLE_UL = 280_000

Write = Callable[..., Record]


@pytest.fixture
def second(person_of: Callable[..., Person]) -> Person:
    return person_of("test-manager", "manager")


@pytest.fixture
def count_again(staff: Person, second: Person) -> Callable[..., Record]:
    """A correction of the bottles of a count, in two names or, until the second agrees, in one."""

    def correct(record: Record, bottles: str, *, agreed: bool = True) -> Record:
        return recording.correct(
            record,
            {"bottles": bottles},
            person=staff,
            second=second if agreed else None,
            reason="Counted again.",
            sure=True,
        )

    return correct


@pytest.fixture
def count(write: Write, staff: Person, second: Person) -> Callable[..., Record]:
    """A hundred bottles in stock, and a count of them in two names: count('98')."""
    write("opening_bottled_stock", at="2027-03-01T06:00", bottles="100", **GIN)

    def save(bottles: str) -> Record:
        values = {"at": "2027-03-20T10:00", "bottles": bottles, "reason": "two broken in the cage", **GIN}
        return recording.save("bottled_count", None, values, person=staff, second=second, sure=True)

    return save


def ways_of(page: str) -> list[str]:
    """The buttons under the answer of an enquiry, in order."""
    buttons = page.partition("<main")[2].rpartition("Write down what was checked")
    buttons = "".join(buttons[:2]).rpartition('class="buttons"')[2] + "</a>"
    return [" ".join(one.split()) for one in re.findall(r"<a[^>]*>([^<]+)</a>", buttons)]


def found() -> list[Finding]:
    """What counts found in March; kept and made anew are the same to the last digit."""
    anew = made_anew(MARCH)
    assert list(kept(MARCH)) == anew
    return [one for one in anew if one.kind == COUNT]


def broken(pure_ul: int = 2 * BOTTLE_UL, reason: str = "A case fell from the pallet.") -> Proposal:
    return Proposal(
        ending=Ending.LOSS,
        checked="The cage and the removals since February.",
        reason=reason,
        cause="breakage",
        happened_at=Enquiry.objects.get().happened_at,
        product="gin",
        pure_ul=pure_ul,
        percent=40.0,
    )


def test_bottles_that_are_missing_are_found_and_enquired_into(count: Callable[..., Record]) -> None:
    record = count("98")
    [one] = found()
    assert one.key == f"count:{record.number}/stock:Gin/70/40"
    assert (one.record, one.operation, one.difference_ul) == (record.number, "bottled stock count", 2 * BOTTLE_UL)
    # The book it met was a hundred bottles.
    assert (one.in_ul, one.threshold_ul, one.uncertainty_ul) == (100 * BOTTLE_UL, 0, 0)
    assert one.sentence == "The count found 0.56 LPA missing against the book."
    answer = answer_of(one, one.difference_ul)
    assert answer.sentence == "2 bottles of Gin, 70 cl at 40 % broken or lost; nothing would be left."
    assert (answer.is_loss, answer.fit) == (True, "Fits as well as 2 others below: the figures cannot tell which.")
    [enquiry] = unanswered(MARCH)
    assert (enquiry.key, enquiry.difference_ul) == (one.key, 2 * BOTTLE_UL)
    assert open_of(enquiry).open_ul == 2 * BOTTLE_UL
    assert by_period(enquiry) == [(MARCH, 2 * BOTTLE_UL)]
    now = figures_now(enquiry)
    assert now is not None
    assert (now.judged_against, now.charge_ul, now.threshold_ul) == (THE_BOOK, 100 * BOTTLE_UL, 0)


def test_pages_and_duty_speak_of_the_bottles_and_of_their_label(
    count: Callable[..., Record], second: Person, browser_of: Callable[[object], Client]
) -> None:
    record = count("98")
    [due] = may_become_due(span_of(MARCH)).lines
    # Only the count says when bottles went missing, so the day of the count is what is known.
    assert (due.record, due.pure_ul, due.percent) == (record.number, 2 * BOTTLE_UL, 40)
    assert due.point.day == date(2027, 3, 20)
    browser = browser_of(second)
    page = browser.get("/books/enquiries/EQ0001/?do=end").content.decode()
    assert "2 bottles of Gin, 70 cl at 40 % broken or lost" in page
    assert 'value="40.0"' in page
    assert "It allows nothing." in page
    # The likeliest first: the loss, then the count itself, whose page leads back to the enquiry.
    assert ways_of(page) == ["Answer 0.56 LPA as lost", "Correct the count", "Write down what was checked"]
    assert f'href="/records/bottled_count/{record.number}/correct/?enquiry=EQ0001"' in page
    sheet = browser.get(f"/records/bottled_count/{record.number}/correct/?enquiry=EQ0001")
    assert sheet.status_code == 200
    assert "EQ0001" in sheet.content.decode()
    listed = browser.get("/books/findings/?month=2027-03").content.decode()
    assert "Bottled stock apart from its book" in listed
    assert browser.get(f"/books/findings/2027-03/{record.number}/").status_code in (200, 302)


def test_bottles_that_are_over_are_no_loss(
    count: Callable[..., Record], second: Person, browser_of: Callable[[object], Client]
) -> None:
    count("101")
    page = browser_of(second).get("/books/enquiries/EQ0001/").content.decode()
    assert ways_of(page) == ["Correct the count", "It is something else", "Write down what was checked"]
    [one] = found()
    assert (one.difference_ul, one.may_be_loss) == (-BOTTLE_UL, False)
    assert (
        one.likely[0].cause
        == "1 bottle of Gin, 70 cl at 40 % bottled or returned, and not written down before the count"
    )
    assert len(unanswered(MARCH)) == 1


def test_a_count_that_agrees_asks_for_nothing(count: Callable[..., Record]) -> None:
    count("100")
    assert found() == []
    assert not Enquiry.objects.exists()


def test_it_is_explained_to_a_known_loss_in_two_hands_and_the_month_and_the_register_say_so(
    count: Callable[..., Record], staff: Person, second: Person
) -> None:
    count("98")
    enquiry = Enquiry.objects.get()
    [line] = loss_register(MARCH).differences
    assert (line.left_ul, line.explained_ul, line.operation) == (2 * BOTTLE_UL, 0, "bottled stock count")
    propose(enquiry, broken(), person=staff)
    assert standing_of(enquiry).state == State.WAITING
    agree(enquiry, second=second)
    assert standing_of(enquiry).state == State.ANSWERED
    left = open_of(enquiry)
    assert (left.left_ul, left.explained_ul, left.open_ul) == (2 * BOTTLE_UL, 2 * BOTTLE_UL, 0)
    assert found() == []
    register = loss_register(MARCH)
    assert [one.pure_ul for one in register.losses if one.cause == "breakage"] == [2 * BOTTLE_UL]
    [line] = register.differences
    assert (line.left_ul, line.explained_ul) == (2 * BOTTLE_UL, 2 * BOTTLE_UL)
    bottled = next(one for one in month_account(MARCH).stages if one.stage == "bottled under bond")
    assert bottled.closing_ul == 98 * BOTTLE_UL
    assert prove().broken == []


def test_what_is_explained_in_part_stays_found(count: Callable[..., Record], staff: Person, second: Person) -> None:
    count("98")
    enquiry = Enquiry.objects.get()
    propose(enquiry, broken(BOTTLE_UL), person=staff)
    agree(enquiry, second=second)
    [one] = found()
    assert (one.difference_ul, one.explained_ul) == (BOTTLE_UL, BOTTLE_UL)
    assert one.likely[0].cause == "1 bottle of Gin, 70 cl at 40 % broken or lost"
    assert Enquiry.objects.count() == 1


def test_a_removal_written_later_ends_it(count: Callable[..., Record], write: Write) -> None:
    """The two bottles had left before the count, so nothing was missing; one fact, one enquiry."""
    count("98")
    enquiry = Enquiry.objects.get()
    write(
        "removal",
        at="2027-03-19T09:00",
        bottles="2",
        kind="home use",
        consignee="J. Varrick, Harrowmere",
        document="D-77",
        **GIN,
    )
    assert found() == []
    assert Enquiry.objects.get() == enquiry
    assert standing_of(enquiry).state in (State.GONE, State.PUT_RIGHT)


def test_a_recount_ends_it_once_two_people_have_corrected_the_count(
    count: Callable[..., Record], count_again: Callable[..., Record]
) -> None:
    record = count("98")
    count_again(record, "97", agreed=False)
    assert len(found()) == 1
    assert standing_of(Enquiry.objects.get()).state == State.OPEN
    count_again(record, "100")
    assert found() == []
    assert standing_of(Enquiry.objects.get()).state == State.PUT_RIGHT
    count_again(record, "99")
    assert len(found()) == 1
    assert standing_of(Enquiry.objects.get()).state == State.OPEN


def test_the_site_says_from_how_much_on_a_count_is_looked_into(
    count: Callable[..., Record], count_again: Callable[..., Record]
) -> None:
    ReviewThreshold.objects.create(
        operation="bottled stock count",
        from_day=date(2027, 3, 1),
        threshold_millionths=10_000,
        floor_ul=300_000,
        source="The site's own, of 1 March 2027.",
    )
    # 1 % of a hundred bottles is one bottle, the floor a little more: one missing bottle passes, two do not.
    first = count("99")
    assert found() == []
    count_again(first, "97")
    [one] = found()
    assert (one.threshold_ul, one.basis) == (300_000, "The site's own, of 1 March 2027.")
