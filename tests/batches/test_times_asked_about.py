"""Times that are asked about before they are written. The plant and its figures are invented; what counts as far or
long ago is common practice, no source.
"""

from __future__ import annotations

import json
from datetime import UTC, date, datetime, timedelta

import pytest
import time_machine
from hypothesis import given
from hypothesis import strategies as st

from batches.models import Reading, Record, Version
from batches.records import recording
from batches.records.asking import Asked, Why
from batches.records.readings import add_readings
from batches.records.recording import correct, save
from batches.sheets.fields import when
from batches.sheets.typed.moments import dated, read_moment, second_of_two
from distillery.clock.setting import days_until, set_clock
from ledger.models import Movement

from . import tiny_plant

AT = when("at", "Moved at")
NOW = datetime(2027, 3, 20, 12, tzinfo=UTC)


def transfer(at: str) -> dict[str, str]:
    values = {"at": at, "from_vessel": "SP", "to_vessel": "VA"}
    for prefix, dip, percent in (
        ("from_before", "300", "70"),
        ("from_after", "0", ""),
        ("to_before", "0", ""),
        ("to_after", "300", "70"),
    ):
        values |= tiny_plant.gauge(prefix, dip, percent)
    return values


@pytest.fixture
def move(opened, staff):
    opened("SP", "300", "70")
    opened("VA", "0", "")

    def move(at: str, **more) -> Record:
        return save("transfer", None, transfer(at), person=staff, now=NOW, **more)

    return move


def asked_by(act, *args, **more):
    before = (Record.objects.count(), Version.objects.count(), Movement.objects.count(), Reading.objects.count())
    with pytest.raises(Asked) as caught:
        act(*args, **more)
    after = (Record.objects.count(), Version.objects.count(), Movement.objects.count(), Reading.objects.count())
    assert after == before, "nothing is written until the question is answered"
    return caught.value.questions


def remarks(record: Record) -> list[str]:
    return [note["sentence"] for note in json.loads(Version.objects.filter(record=record).latest("serial").notes)]


def test_a_time_later_than_now_is_asked_about_and_kept_only_when_answered(move):
    (question,) = asked_by(move, "2072-03-04 10:00")
    assert question.why == Why.AHEAD
    assert "Fri 4 Mar 2072 10:00" in question.sentence
    assert question.keep == "Keep Fri 4 Mar 2072 10:00"
    # The year is the slip: the same day of this year has been.
    assert (question.instead, question.instead_shown) == ("2027-03-04T10:00", "It was Thu 4 Mar 2027 10:00")
    asked_by(move, "2072-03-04 10:00", sure={"ahead:at:2071-03-04T10:00+00:00"})
    record = move("2072-03-04 10:00", sure={question.key})
    assert record.happened_from == datetime(2072, 3, 4, 10, tzinfo=UTC)
    assert remarks(record) == ["This time was ahead of the clock of the books when it was written."]


def test_five_minutes_ahead_are_what_two_clocks_may_differ_by(move):
    assert [one.why for one in asked_by(move, "2027-03-20 12:06")] == [Why.AHEAD]
    assert remarks(move("2027-03-20 12:05")) == []


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("2027-04-19 23:50", "2027-03-19T23:50"),
        ("2027-03-21 09:00", "2027-03-20T09:00"),
        ("2028-03-04 10:00", "2027-03-04T10:00"),
        ("2027-12-31 10:00", "2027-03-20T10:00"),
    ],
)
def test_the_time_probably_meant_is_the_nearest_with_the_same_clock(move, typed, meant):
    (question,) = asked_by(move, typed)
    assert question.instead == meant


def test_before_the_opening_stock_of_a_vessel_it_names(move):
    (question,) = asked_by(move, "2027-02-27 10:00")
    assert question.why == Why.BEFORE_OPENING
    assert "opening stock of Mon 1 Mar 2027 06:00" in question.sentence
    assert remarks(move("2027-02-27 10:00", sure=True)) == [
        "This time lies before the opening stock of a vessel that the record names."
    ]


@pytest.fixture
def malt(write) -> Record:
    return write("intake", "M001", received_at="2027-02-01T06:00", kilograms="10000")


def test_another_year_is_asked_about(write, staff):
    def deliver(at: str, **more) -> Record:
        return save("intake", "M002", {"received_at": at, "kilograms": "9000"}, person=staff, now=NOW, **more)

    (question,) = asked_by(deliver, "2026-03-04 10:00")
    assert (question.why, question.instead) == (Why.LONG_AGO, "2027-03-04T10:00")
    assert deliver("2026-03-04 10:00", sure={question.key}).number == "M002"


def mash(end: str) -> dict[str, str]:
    return {
        "started_at": "2027-02-02 06:00",
        "ended_at": end,
        "malt_lot": "M001",
        "grist_kg": "500",
        "wort_litres": "1000",
        "wort_gravity": "1.0600",
        "wort_celsius": "18",
        "washback": "WB",
    }


def test_an_end_far_from_its_beginning_is_asked_about(malt, staff):
    (question,) = asked_by(save, "mash", None, mash("2027-03-02 11:00"), person=staff, now=NOW)
    assert (question.field, question.why, question.instead) == ("ended_at", Why.FAR, "2027-02-02T11:00")
    record = save("mash", None, mash("2027-02-02 11:00"), person=staff, now=NOW)
    # A correction is asked about like a first writing, and only about what it changes.
    new = {"ended_at": "2027-03-02 11:00"}
    (question,) = asked_by(correct, record, new, person=staff, reason="slip", now=NOW)
    correct(record, new, person=staff, reason="slip", now=NOW, sure={question.key})
    assert correct(record, {"grist_kg": "510"}, person=staff, reason="weighed again", now=NOW)


def test_a_reading_outside_its_record_is_asked_about(malt, staff):
    record = save("mash", None, mash("2027-02-02 11:00"), person=staff, now=NOW)

    def read(at: str, **more) -> Reading:
        return recording.add_reading(record, at, "celsius", "63", staff, **more)

    assert read("2027-02-02 12:59")
    with time_machine.travel(NOW, tick=False):
        (question,) = asked_by(read, "2027-03-02 09:00")
        assert (question.why, question.instead) == (Why.FAR, "2027-02-02T09:00")
        assert "ended Tue 2 Feb 2027 11:00" in question.sentence
        assert [one.why for one in asked_by(read, "2027-01-02 09:00")] == [Why.FAR]
        assert read("2027-03-02 09:00", sure={question.key})


def test_now_is_the_moment_of_saving_on_the_books_clock(malt, staff):
    record = save("intake", "M003", {"received_at": "now", "kilograms": "9000"}, person=staff, now=NOW)
    assert record.happened_from == NOW
    assert json.loads(Version.objects.get(record=record).values)["received_at"] == "2027-03-20T12:00"


def test_a_bare_time_still_to_come_today_was_yesterday_and_says_so(malt, staff):
    just_after_midnight = datetime(2027, 3, 20, 0, 20, tzinfo=UTC)
    record = save(
        "intake",
        "M003",
        {"received_at": "23:50", "kilograms": "9000"},
        person=staff,
        day=date(2027, 3, 20),
        now=just_after_midnight,
    )
    assert record.happened_from == datetime(2027, 3, 19, 23, 50, tzinfo=UTC)
    assert remarks(record) == ["23:50 is still to come today, so it was taken as Fri 19 Mar 2027 23:50."]


# -- the hour that comes twice: by the Summer Time Order 2002 clocks go back at 01:00 UTC on 31 October 2027

SECOND_0120 = datetime(2027, 10, 31, 1, 20, tzinfo=UTC)


def test_now_in_the_second_of_the_two_hours_is_the_second(malt, staff):
    record = save("intake", "M003", {"received_at": "now", "kilograms": "9000"}, person=staff, now=SECOND_0120)
    assert record.happened_from == SECOND_0120
    assert json.loads(Version.objects.get(record=record).values)["received_at"] == "2027-10-31T01:20+00:00"


def test_first_or_second_is_asked_once_both_have_been(malt, staff):
    def deliver(now: datetime, at: str = "2027-10-31 01:10", **more) -> Record:
        return save("intake", None, {"received_at": at, "kilograms": "9000"}, person=staff, now=now, **more)

    (question,) = asked_by(deliver, SECOND_0120)
    assert (question.why, question.keep) == (Why.TWICE, "The first, 01:10 BST")
    assert (question.instead, question.instead_shown) == ("2027-10-31T01:10+00:00", "The second, 01:10 GMT")
    assert deliver(SECOND_0120, question.instead).happened_from == SECOND_0120 - timedelta(minutes=10)
    # While the first is on there is no second to mean.
    assert deliver(SECOND_0120 - timedelta(hours=1)).happened_from == SECOND_0120 - timedelta(minutes=70)


def test_first_or_second_is_asked_of_a_time_without_its_day_and_of_a_reading(malt, staff):
    night, day = {"kilograms": "9000"}, date(2027, 10, 31)
    (question,) = asked_by(
        save, "intake", None, {"received_at": "01:10", **night}, person=staff, now=SECOND_0120, day=day
    )
    assert (question.why, question.instead) == (Why.TWICE, "2027-10-31T01:10+00:00")
    mash = {"malt_lot": "M001", "grist_kg": "1500", "started_at": "2027-10-30 23:00"}
    record = save("mash", None, mash, person=staff, now=SECOND_0120, sure=True)
    quantity = ("celsius", "65")
    (question,) = asked_by(add_readings, record, [("2027-10-31T01:10", *quantity)], staff, now=SECOND_0120)
    assert (question.field, question.why, question.instead) == ("at", Why.TWICE, "2027-10-31T01:10+00:00")
    second, first = (
        add_readings(record, [(at, *quantity)], staff, now=SECOND_0120, sure=sure)[0]
        for at, sure in ((question.instead, False), ("2027-10-31T01:10", frozenset({question.key})))
    )
    assert first.at < second.at == SECOND_0120 - timedelta(minutes=10), (
        "they stand in the order in which they were read"
    )


@given(st.datetimes(datetime(2026, 10, 1), datetime(2028, 4, 30)))
def test_every_minute_reads_back_as_it_is_written(naive):
    moment = naive.replace(second=0, microsecond=0, tzinfo=UTC)
    assert read_moment(AT, dated(moment))[0] == moment
    assert read_moment(AT, "now", now=moment)[0] == moment


@given(st.integers(0, 59), st.booleans())
def test_both_of_the_two_read_back_as_they_are_written(minute, is_second):
    moment = datetime(2027, 10, 31, 1 if is_second else 0, minute, tzinfo=UTC)
    text = dated(moment)
    assert text.endswith("+00:00" if is_second else "+01:00")
    assert read_moment(AT, text)[0] == moment
    assert second_of_two(moment) == (None if is_second else moment + timedelta(hours=1))


@pytest.mark.own_clock
def test_in_books_without_a_clock_real_time_is_now(db, staff):
    with time_machine.travel(NOW, tick=False):
        set_clock(days_until(NOW), why="real time is no clock")
        asked_by(save, "intake", "M9", {"received_at": "2027-03-20 13:00", "kilograms": "9000"}, person=staff)
        record = save("intake", "M9", {"received_at": "now", "kilograms": "9000"}, person=staff)
    assert record.happened_from == NOW
