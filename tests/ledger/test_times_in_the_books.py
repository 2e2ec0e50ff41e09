"""Times in the books: what is ahead of the clock opens no period and is a finding; a clock that ran back is said on the
page and in the proof. Vessels, amounts and times are invented.
"""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from io import StringIO

import pytest
import time_machine
from django.core.management import call_command
from django.urls import reverse

from distillery.clock.setting import set_clock
from ledger.comparing.findings.finding import TIME
from ledger.comparing.findings.untimely import untimely
from ledger.comparing.month import findings
from ledger.periods.readiness import next_to_close, not_ready
from ledger.posting.post import post
from ledger.proof.proving import prove
from ledger.statements.month import known_periods

from . import plant

pytestmark = [pytest.mark.django_db, pytest.mark.own_clock, pytest.mark.usefixtures("nothing_compared")]
# The clock of this computer, and hours from the time the plant's builders count from to 4 March 2072.
MARCH = datetime(2027, 3, 20, 12, tzinfo=UTC)
IN_2072 = (datetime(2072, 3, 4, 10, tzinfo=UTC) - plant.START) / timedelta(hours=1)


@pytest.fixture
def clock():
    with time_machine.travel(MARCH, tick=False) as traveller:
        yield traveller


@pytest.fixture
def vat(clock, manager):
    """A vat opened with 100 LPA and drawn from on 14 March."""
    vat = plant.vessel("VAT")
    post(plant.opening(vat, 100.0), person=manager)
    draw(manager, vat, "D1", 48, 60)
    return vat


def draw(manager, vat, number, hours, leaves):
    return post(plant.draft("draw", number, hours, plant.left(vat, leaves, plant.difference("draw"))), person=manager)


def test_what_is_ahead_of_the_clock_opens_no_period(vat, manager):
    assert known_periods() == ["2027-03"]
    draw(manager, vat, "D2", IN_2072, 50)
    assert known_periods() == ["2027-03"]
    assert next_to_close() == "2027-03"
    # The entry of 2072 does not make March 2027 over either, at no remark.
    first = not_ready("2027-03", now=MARCH)[0]
    assert first.must
    assert first.sentence.startswith("March 2027 is not over; it can be closed from Thu 1 Apr 2027 00:00.")


def test_nothing_but_an_entry_ahead_is_nothing_to_close(clock, manager):
    vat = plant.vessel("VAT")
    post(plant.draft("stock take", "S1", IN_2072, plant.found(vat, 50)), person=manager)
    assert (known_periods(), next_to_close()) == ([], "")


def test_an_entry_ahead_of_the_clock_is_a_finding(vat, manager):
    assert untimely() == []
    draw(manager, vat, "D2", IN_2072, 50)
    (one,) = [one for one in findings() if one.kind == TIME]
    assert (one.record, one.at) == ("D2", datetime(2072, 3, 4, 10, tzinfo=UTC))
    assert one.sentence == "1 entry ahead of the clock, which said Sat 20 Mar 2027 12:00."
    # It is found in the period that it claims, and in the one in which it was written; in no other.
    assert [[each.record for each in untimely(period)] for period in ("2072-03", "2027-03", "2027-04")] == [
        ["D2"],
        ["D2"],
        [],
    ]
    out = StringIO()
    call_command("findings", json=True, stdout=out)
    assert [(each["kind"], each["record"]) for each in json.loads(out.getvalue())] == [("time", "D2")]


def test_one_wrong_clock_is_one_finding(vat, manager):
    for number in range(3):
        draw(manager, vat, f"D{number + 2}", 24 * 10 + number, 50 - number)
    (one,) = untimely()
    assert (one.record, one.under) == ("D2", ("D3", "D4"))


def test_books_kept_for_practice_go_by_their_own_clock(manager):
    with time_machine.travel(datetime(2026, 11, 29, 12, tzinfo=UTC), tick=False):
        set_clock(111, why="for practice")  # 20 March 2027
        vat = plant.vessel("VAT")
        post(plant.opening(vat, 100.0), person=manager)
        draw(manager, vat, "D1", 48, 60)
        assert untimely() == []
        assert known_periods() == ["2027-03"]
        draw(manager, vat, "D2", 24 * 10, 50)
        assert [one.record for one in untimely()] == ["D2"]


def test_a_gauge_before_the_opening_stock_is_a_finding(vat, manager):
    draw(manager, vat, "D0", -200, 70)
    (one,) = untimely("2027-03")
    assert (one.record, one.sentence) == ("D0", "1 entry before the opening stock of a vessel in it.")


def test_a_clock_that_ran_back_is_said_in_the_proof_and_breaks_nothing(vat, clock, manager):
    assert prove().remarks == []
    clock.shift(-timedelta(hours=2))
    back = draw(manager, vat, "D2", 60, 50)
    clock.shift(timedelta(hours=3))
    proof = prove()
    assert (proof.holds, proof.broken) == (True, [])
    assert proof.remarks == [
        f"movement {back.pk} was written Sat 20 Mar 2027 10:00, movement {back.pk - 1} before it "
        "Sat 20 Mar 2027 12:00: the clock ran back by 2 h"
    ]
    out = StringIO()
    call_command("verify_ledger", stdout=out)
    assert "Remark: movement" in out.getvalue()
    out = StringIO()
    call_command("verify_ledger", json=True, stdout=out)
    said = json.loads(out.getvalue())
    assert (said["holds"], said["remarks"]) == (True, proof.remarks)


def test_a_clock_that_stands_before_the_newest_entry_is_said(vat, clock):
    clock.shift(-timedelta(days=1))
    (remark,) = prove().remarks
    assert "the clock of this computer says Fri 19 Mar 2027 12:00" in remark


def test_a_few_seconds_back_are_let_be(vat, clock, manager):
    clock.shift(-timedelta(seconds=30))
    draw(manager, vat, "D2", 60, 50)
    assert prove().remarks == []


def test_the_pages_say_it(vat, clock, manager, browser_of):
    clock.shift(-timedelta(hours=2))
    back = draw(manager, vat, "D2", 60, 50)
    ahead = draw(manager, vat, "D3", IN_2072, 40)
    here = browser_of(manager)
    page = here.get(reverse("movement", args=[back.pk])).content.decode()
    assert "before the movement before it (Sat 20 Mar 2027 12:00): the clock ran back" in page
    assert "the clock ran back" not in here.get(reverse("movement", args=[back.pk - 1])).content.decode()
    books = here.get(reverse("books")).content.decode()
    assert f"The clock ran back: movement {back.pk} was written Sat 20 Mar 2027 10:00" in books
    assert "Ahead of the clock of the books, so that no period begins with them" in books
    assert f"movement {ahead.pk}</a>, D3" in books
    assert "March 2072" not in books
