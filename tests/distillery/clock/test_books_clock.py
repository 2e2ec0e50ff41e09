"""The books' own clock: a whole number of days from real time, set once in empty books. The days are invented."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from io import StringIO

import pytest
import time_machine
from django.core.management import call_command
from django.db import DatabaseError, connection, transaction
from django.utils import timezone

from distillery.clock import reading
from distillery.clock.models import BooksClock
from distillery.clock.setting import ClockNotSet, days_until, set_clock

pytestmark = [pytest.mark.django_db, pytest.mark.own_clock]
REAL = datetime(2026, 11, 29, 14, 10, tzinfo=UTC)


@time_machine.travel(REAL, tick=False)
def test_a_sites_own_books_go_by_real_time():
    assert reading.standing() is None
    assert reading.books_now() == REAL
    assert reading.books_today() == REAL.date()


def test_time_passes_in_books_whose_clock_stands_ahead():
    with time_machine.travel(REAL, tick=False) as traveller:
        set_clock(122, why="for practice")
        assert reading.books_now() == datetime(2027, 3, 31, 14, 10, tzinfo=UTC)
        standing = reading.standing()
        # By hand: 14:10 UTC is 15:10 by the summer time that began on 28 March 2027 (Summer Time Order 2002).
        assert standing.shown == "31 March 2027, 15:10"
        assert standing.away == "122 days ahead of real time"
        traveller.shift(timedelta(hours=9, minutes=50))
        assert reading.books_now() == datetime(2027, 4, 1, 0, 0, tzinfo=UTC)
        assert reading.books_today().isoformat() == "2027-04-01"


def test_a_moment_of_local_time_is_carried_over_by_its_instant():
    set_clock(122, why="for practice")
    assert reading.books_time(timezone.localtime(REAL)) == reading.books_time(REAL)


def test_the_clock_is_set_once_and_kept():
    set_clock(122, why="for practice")
    with pytest.raises(ClockNotSet, match="set once, before anything is recorded"):
        set_clock(3, why="again")
    for statement in ("UPDATE clock_booksclock SET offset_days = 1", "DELETE FROM clock_booksclock"):
        with pytest.raises(DatabaseError), transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(statement)
    assert BooksClock.objects.get().offset_days == 122


def test_no_clock_is_set_once_anything_is_recorded(opened_books):
    with pytest.raises(ClockNotSet, match="before anything is recorded"):
        set_clock(122, why="for practice")
    assert reading.offset_days() == 0
    # Not by anybody's hand either.
    with pytest.raises(DatabaseError), transaction.atomic():
        BooksClock.objects.create(offset_days=5, set_at=REAL, why="by hand")


@pytest.mark.parametrize("days", [0])
def test_no_days_away_is_no_clock(days):
    assert set_clock(days, why="real time") is None
    assert not BooksClock.objects.exists()


def test_whole_days_until_a_moment():
    assert days_until(REAL + timedelta(days=3), real=REAL) == 3
    assert days_until(REAL + timedelta(days=3, minutes=1), real=REAL) == 4
    assert days_until(REAL + timedelta(days=2, hours=23), real=REAL) == 3
    assert days_until(REAL - timedelta(days=2, hours=1), real=REAL) == -2


def test_the_clock_keeps_a_trail_and_its_triggers_are_looked_for():
    set_clock(-3, why="for practice")
    from distillery.trail.models import Entry

    assert Entry.objects.filter(table="clock_booksclock").count() == 1
    out = StringIO()
    call_command("check", database=["default"], stdout=out)
    name = "batches_clock_in_empty_books"
    on_table = "" if connection.vendor == "sqlite" else " ON clock_booksclock"
    with connection.cursor() as cursor:
        cursor.execute(f"DROP TRIGGER {name}{on_table}")
    from django.core.management.base import SystemCheckError

    with pytest.raises(SystemCheckError, match=name):
        call_command("check", database=["default"], stdout=out)


@pytest.fixture
def opened_books(db, staff):
    """One entry in the books, of before now."""
    from batches.models import Record, State

    return Record.objects.create(
        kind="mash", number="MA0001", state=State.OPEN, opened_by=staff, opened_at=REAL, happened_from=REAL
    )
