"""When a reading is due, overdue and missing. A spirit run is read every 15 minutes: common practice, no source."""

from __future__ import annotations

from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_up import BEGUN, at, run_of

from batches.running.due import MISSING_SHOWN, Waits, reading_due
from batches.sheets.declared import Running
from batches.steps import STEPS, sheet_of

STRENGTH = "distillate_percent"
hours = st.floats(0, 200, allow_nan=False).map(lambda hour: round(hour, 3))


def read_at(*times: float):
    return run_of(readings=[(hour, STRENGTH, "70.0") for hour in times])


# Worked by hand: last read at 4 h 00, so due at 4 h 15; overdue a third of 15 minutes later; missing from 4 h 30 on.
@pytest.mark.parametrize(
    ("now", "waits", "due", "missing"),
    [
        (4.0, Waits.COMING, 4.25, []),
        (4.24, Waits.COMING, 4.25, []),
        (4.25, Waits.DUE, 4.25, []),
        (4.25 + 1 / 12, Waits.DUE, 4.25, []),
        (4.25 + 1 / 12 + 0.01, Waits.OVERDUE, 4.25, []),
        (4.5, Waits.DUE, 4.5, [4.25]),
        (5.1, Waits.OVERDUE, 5.0, [4.25, 4.5, 4.75]),
        (5.25, Waits.DUE, 5.25, [4.5, 4.75, 5.0]),
    ],
)
def test_worked_by_hand(now, waits, due, missing):
    found = reading_due(read_at(3.75, 4.0), at(now))
    assert (found.waits, found.at) == (waits, at(due))
    assert list(found.missing) == [at(hour) for hour in missing]
    assert found.missing_before == (1 if now == 5.25 else 0)


def test_the_first_reading_is_due_when_the_first_usually_came():
    assert reading_due(read_at(), at(0.1)).at == at(0.25)
    assert reading_due(read_at(), at(0.1), first_after=timedelta(hours=0.6)).at == at(0.6)
    assert reading_due(read_at(), at(0.1), first_after=timedelta(0)).at == at(0.25)


def test_a_strength_written_at_a_cut_is_a_reading():
    run = run_of(
        readings=[(1.0, STRENGTH, "75.0")],
        typed={"spirit_on_at": at(1.1).isoformat(), "cut_on_percent": "74.0"},
    )
    assert reading_due(run, at(1.2)).at == at(1.35)
    assert [point.value for point in run.points] == [75.0, 74.0]


def test_nothing_is_due_while_it_is_stopped_and_anew_once_it_is_started():
    stop = [(1.0, STRENGTH, "75.0"), (1.1, "interruption", "stopped")]
    assert reading_due(run_of(readings=stop), at(9)).waits == Waits.STOPPED
    assert reading_due(run_of(readings=stop), at(9)).missing == ()
    again = reading_due(run_of(readings=[*stop, (9.0, "interruption", "started again")]), at(9.1))
    assert (again.waits, again.at, again.missing) == (Waits.COMING, at(9.25), ())


@given(times=st.lists(hours, max_size=6), now=hours)
def test_the_next_is_after_the_last_and_what_is_missing_lies_between(times, now):
    run, every = read_at(*times), timedelta(minutes=15)
    found = reading_due(run, at(now))
    last = max([BEGUN, *(at(hour) for hour in times if hour <= now)])
    assert found.at > last
    assert (found.at - last) % every == timedelta(0)
    assert (found.waits == Waits.COMING) == (found.at > at(now))
    assert all(last < one < found.at for one in found.missing)
    assert list(found.missing) == sorted(found.missing)
    assert len(found.missing) <= MISSING_SHOWN
    # Nothing between the last reading and what is due now goes unsaid.
    assert (found.at - last) // every - 1 == len(found.missing) + found.missing_before


@given(times=st.lists(hours, max_size=6), now=hours)
def test_a_reading_taken_now_settles_it(times, now):
    earlier = [hour for hour in times if hour <= now]
    settled = reading_due(read_at(*earlier, now), at(now))
    assert (settled.waits, settled.missing) == (Waits.COMING, ())
    assert settled.at == at(now) + timedelta(minutes=15)


def test_what_is_read_along_the_way_of_several_moments_says_how_it_runs():
    for sheet in STEPS:
        assert (sheet.running is not None) == (len(sheet.moments) > 1 and bool(sheet.readings)), sheet.kind


def test_an_event_without_a_place_on_the_sheet_is_refused():
    from dataclasses import replace

    sheet = sheet_of("spirit_run")
    assert isinstance(sheet.running, Running)
    cut = sheet.running.events[0]
    for wrong in (
        replace(cut, when="no_such_at"),
        replace(cut, into="no_such_vessel"),
        replace(cut, after="no_such_event"),
        replace(cut, when="", again="no_such_quantity", says="x"),
        replace(cut, when=""),
    ):
        with pytest.raises(ValueError, match="has no place on the sheet"):
            replace(sheet, running=replace(sheet.running, events=(wrong,)))
