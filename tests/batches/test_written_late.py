"""Why something is written late is asked of whoever has a box for it, and kept with the entry. After how long it counts
as late is common practice, no source.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from batches.hands import Hands
from batches.models import Reading, Record, Version
from batches.records.asking import Asked, Why, is_late
from batches.records.readings import add_readings
from batches.records.recording import correct, save
from batches.records.versions import digest_of
from distillery.clock.reading import books_now
from distillery.pages import Kind
from ledger.models import Account, RunningBalance
from ledger.views.lists.entries import EntryTable
from tests.batches.tiny_plant import gauge

NOW = datetime(2027, 3, 20, 12, tzinfo=UTC)
ASKED = Hands(asks_late=True)


def deliver(staff, at: str, **more) -> Record:
    return save("intake", None, {"received_at": at, "kilograms": "9000"}, person=staff, now=NOW, **more)


def test_half_an_hour_is_not_late_and_more_is(plain_plant, staff):
    assert deliver(staff, "2027-03-20 11:30", hands=ASKED)
    with pytest.raises(Asked) as caught:
        deliver(staff, "2027-03-20 11:29", hands=ASKED)
    (question,) = caught.value.questions
    assert (question.why, question.field) == (Why.LATE, "received_at")
    assert "31 min ago. Why is it written only now?" in question.sentence
    assert "It was forgotten" in question.choices
    assert Record.objects.count() == 1


def test_the_reason_is_kept_with_the_entry_and_sealed_with_it(plain_plant, staff):
    record = deliver(staff, "2027-03-19 18:00", hands=Hands(late_reason="It was forgotten", asks_late=True))
    version = Version.objects.get(record=record)
    assert version.late_reason == "It was forgotten"
    sealed = version.digest
    version.late_reason = ""
    assert digest_of(version, before="") != sealed


def test_nobody_is_asked_who_has_no_box_for_it(plain_plant, staff):
    assert deliver(staff, "2027-03-01 06:00")


def test_a_correction_is_of_another_day_and_is_not_asked(plain_plant, staff):
    record = deliver(staff, "2027-03-19 18:00")
    assert correct(record, {"kilograms": "9100"}, person=staff, reason="weighed again", now=NOW, hands=ASKED)


def test_a_reading_is_asked_about_by_its_own_time(write, staff):
    write("intake", "M001", received_at="2027-03-18T05:00", kilograms="10000")
    mash = write(
        "mash",
        "MA0001",
        started_at="2027-03-19T06:00",
        ended_at="2027-03-19T10:00",
        malt_lot="M001",
        grist_kg="200",
        wort_litres="1000",
        wort_gravity="1.0600",
        wort_celsius="20",
        washback="WB",
    )
    row = [("2027-03-19T08:00", "celsius", "64")]
    with pytest.raises(Asked) as caught:
        add_readings(mash, row, staff, now=NOW, hands=ASKED)
    assert caught.value.questions[0].why == Why.LATE
    (kept,) = add_readings(mash, row, staff, now=NOW, hands=Hands(late_reason="Known only later", asks_late=True))
    assert Reading.objects.get(pk=kept.pk).late_reason == "Known only later"


@given(st.integers(0, 30))
def test_nothing_within_half_an_hour_is_late(minutes):
    assert not is_late(NOW - timedelta(minutes=minutes), NOW)


def test_a_page_asks_and_a_button_answers(plain_plant, staff, browser_of):
    here, address = browser_of(staff), "/records/intake/new/"
    sheet = {"received_at": "2027-05-15 01:00", "kilograms": "9000", "late_reason": ""}
    page = here.post(address, sheet).content.decode()
    assert "Why is it written only now?" in page
    assert not Record.objects.exists()
    buttons = re.findall(r'<button class="plain" name="late_reason" value="([^"]*)">', page)
    assert len(buttons) == 5
    # The button stands before the box, which is blank.
    here.post(address, {**sheet, "late_reason": [buttons[3], ""]})
    assert Version.objects.get().late_reason == buttons[3]
    shown = here.get(f"/records/intake/{Record.objects.get().number}/").content.decode()
    assert f"written late: {buttons[3]}" in shown


def said_on_the_account() -> set[str]:
    """What an account's page says beside the time at which each of its entries was written."""
    rows = list(RunningBalance.objects.filter(account=Account.objects.get(vessel__code="VA")))
    table = EntryTable(rows)
    table.prepare(rows)
    cells = [dict(table.list_columns)["written"].cell(row) for row in rows]
    assert cells
    return {cell.state.word for cell in cells if cell.state and cell.state.kind == Kind.LATE}


@pytest.mark.parametrize(
    "own_books", [pytest.param(True, marks=pytest.mark.own_clock), pytest.param(False, id="books_for_practice")]
)
def test_the_account_says_how_late_and_why(own_books, plain_plant, staff):
    at = books_now() - timedelta(hours=4, minutes=1)
    sheet = {"vessel": "VA", "at": at.isoformat(timespec="minutes"), **gauge("gauge", "1000", "60")}
    save(
        "opening_stock",
        None,
        sheet,
        person=staff,
        hands=Hands(late_reason="It was forgotten", asks_late=True),
        sure=True,
    )
    (said,) = said_on_the_account()
    assert re.fullmatch(r"Late 4 h [12] min: It was forgotten", said)


def test_what_was_loaded_into_books_for_practice_is_not_late(opened):
    opened("VA", "1000", "60")
    assert said_on_the_account() == set()
