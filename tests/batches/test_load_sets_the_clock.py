"""The clock of the books that a load sets, and what is ahead of it. Months are invented; this one is March 2027."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from io import StringIO
from pathlib import Path

import pytest
import time_machine
from django.core.management import call_command

from batches.loading.load_folder import BadRows, load_folder
from batches.models import Record, Version
from distillery.clock.models import BooksClock
from distillery.clock.reading import books_now, offset_days
from ledger.comparing.findings.finding import TIME
from ledger.comparing.month import findings
from ledger.statements.month import known_periods

from .tiny_month import LOG, write_folder

pytestmark = [pytest.mark.django_db, pytest.mark.own_clock]
BEFORE = datetime(2026, 11, 29, 12, tzinfo=UTC)
TAKEN = datetime(2027, 3, 31, 5, tzinfo=UTC)  # the stock take of the month, 06:00 by summer time


@pytest.fixture
def real():
    with time_machine.travel(BEFORE, tick=False) as traveller:
        yield traveller


def late_intake(at: str) -> dict[str, str]:
    return {"intake": LOG["intake"] + f"M002,malt,{at},9000,4.5,1.5,410,A\n"}


def of_times() -> list[tuple[str, tuple[str, ...]]]:
    return [(one.record, one.under) for one in findings() if one.kind == TIME]


def test_a_month_that_lies_ahead_sets_the_books_to_its_end(real, tmp_path: Path):
    loaded = load_folder(write_folder(tmp_path))
    assert books_now() == datetime(2027, 3, 31, 12, tzinfo=UTC)
    assert loaded.books_clock == (
        "The clock of these books stands at 31 March 2027, 13:00, 122 days ahead of real time."
    )
    assert (loaded.ahead, of_times()) == ("", [])
    assert not any("ahead of the clock" in notes for notes in Version.objects.values_list("notes", flat=True))


def test_the_last_entry_of_the_month_is_not_left_ahead(real, tmp_path: Path):
    real.move_to(BEFORE.replace(hour=2))
    load_folder(write_folder(tmp_path))
    assert TAKEN <= books_now() < TAKEN + timedelta(days=1)
    assert of_times() == []


def test_a_month_that_is_past_leaves_the_books_at_real_time(real, tmp_path: Path):
    real.move_to(datetime(2027, 4, 2, 9, tzinfo=UTC))
    loaded = load_folder(write_folder(tmp_path))
    assert (offset_days(), loaded.books_clock, loaded.ahead, of_times()) == (0, "", "", [])
    assert not BooksClock.objects.exists()


def test_a_slip_of_the_pen_gives_a_site_no_clock_but_is_found(real, tmp_path: Path):
    real.move_to(datetime(2027, 4, 2, 9, tzinfo=UTC))
    loaded = load_folder(write_folder(tmp_path, **late_intake("2072-03-05T06:00")))
    assert not BooksClock.objects.exists()
    assert loaded.ahead == (
        "1 record lies ahead of the clock of the books (Fri 2 Apr 2027 10:00): M002. Their pages say so, and findings "
        "has those that moved alcohol."
    )
    record = Record.objects.get(number="M002")
    notes = json.loads(Version.objects.get(record=record).notes)
    assert [note["sentence"] for note in notes] == [
        "This time was ahead of the clock of the books when it was written."
    ]
    assert known_periods() == ["2027-03"]


def test_a_slip_does_not_carry_the_clock_with_it(real, tmp_path: Path):
    load_folder(write_folder(tmp_path, **late_intake("2072-03-05T06:00")))
    assert books_now() == datetime(2027, 3, 31, 12, tzinfo=UTC)


def test_into_standing_books_what_is_ahead_loads_and_becomes_a_finding(real, tmp_path: Path):
    load_folder(write_folder(tmp_path / "one"))
    more = LOG["removals"] + "RM0002,2027-04-07T06:00,gin,70,41.4,6,home use\n"
    loaded = load_folder(write_folder(tmp_path / "two", removals=more))
    assert loaded.records == {"removal": 1}
    assert loaded.books_clock == ""
    assert loaded.ahead.endswith("RM0002. Their pages say so, and findings has those that moved alcohol.")
    assert of_times() == [("RM0002", ())]
    assert offset_days() == 122


def test_a_load_that_is_refused_sets_no_clock(real, tmp_path: Path):
    with pytest.raises(BadRows):
        load_folder(write_folder(tmp_path, **late_intake("no time at all")))
    assert offset_days() == 0
    assert not BooksClock.objects.exists()


def test_the_command_says_so(real, tmp_path: Path):
    out = StringIO()
    call_command("load_month", write_folder(tmp_path), stdout=out)
    assert "The clock of these books stands at 31 March 2027, 13:00, 122 days ahead of real time." in out.getvalue()
    out = StringIO()
    call_command("load_month", tmp_path, json=True, stdout=out, verbosity=1)
    assert json.loads(out.getvalue())["books_clock"] == ""


def test_now_says_no_time_in_a_table(real, tmp_path: Path):
    with pytest.raises(BadRows) as refused:
        load_folder(write_folder(tmp_path, **late_intake("now")))
    assert [(row.file, row.column) for row in refused.value.bad] == [("log/intake.csv", "received_at")]


def test_the_demonstration_has_a_clock_whenever_it_is_made(real, tmp_path: Path):
    real.move_to(datetime(2027, 6, 1, 12, tzinfo=UTC))
    load_folder(write_folder(tmp_path), demonstration=True)
    assert books_now() == datetime(2027, 3, 31, 12, tzinfo=UTC)
