"""Copies that the server takes by itself: when one is due, which are kept, and what the name bar says of them."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from django.urls import reverse

from distillery.clock.reading import site_day
from distillery.copies import keeper, said
from distillery.copies.places import NAME, KeptCopy, copies_in, named, no_longer_kept
from distillery.jobs.models import Job
from distillery.seals.writing import written_by
from tests.people import somebody

NOW = datetime(2028, 11, 30, 9, 0, tzinfo=UTC)


def taken(at: datetime) -> KeptCopy:
    return KeptCopy(Path(at.isoformat()), at, 1, 1)


def test_of_three_years_of_nights_the_newest_of_seven_days_five_weeks_twelve_months_and_each_year_stay() -> None:
    nights = [taken(NOW - timedelta(days=days, hours=6)) for days in range(3 * 365)]
    gone = {one.file for one in no_longer_kept(nights, NOW)}
    kept = [site_day(one.at) for one in nights if one.file not in gone]
    # Seven days back from the 30th; Sundays before (the week of the 30th is there already); ends of months; of years.
    assert kept[:7] == [date(2028, 11, 30) - timedelta(days=days) for days in range(7)]
    assert kept[7:10] == [date(2028, 11, 19), date(2028, 11, 12), date(2028, 11, 5)]
    months = [date(2028, month, 1) - timedelta(days=1) for month in range(11, 1, -1)]
    assert kept[10:] == [*months, date(2027, 12, 31), date(2026, 12, 31), date(2025, 12, 31)]


def test_every_copy_of_the_last_two_days_stays_and_one_by_itself_is_never_let_go() -> None:
    hourly = [taken(NOW - timedelta(hours=hours)) for hours in range(40)]
    assert no_longer_kept(hourly, NOW) == []
    assert no_longer_kept([taken(NOW - timedelta(days=4000))], NOW) == []


@pytest.mark.parametrize(
    ("last", "now", "due"),
    [
        ([], "2027-05-04T00:30", False),
        ([], "2027-05-04T02:30", True),
        (["2027-05-03T02:00"], "2027-05-04T02:30", True),
        (["2027-05-04T02:00"], "2027-05-04T23:30", False),
        # The clock had been ahead by a year, and came back.
        (["2028-05-04T02:00", "2027-05-04T02:00"], "2027-05-04T09:00", False),
        (["2028-05-04T02:00"], "2027-05-04T09:00", True),
    ],
)
def test_one_copy_is_due_each_day_from_two_at_night(last: list[str], now: str, due: bool) -> None:
    # British Summer Time: two at night is one o'clock UTC.
    moments = [datetime.fromisoformat(f"{one}+01:00") for one in last]
    assert keeper.is_due(moments, datetime.fromisoformat(f"{now}+01:00")) is due


def test_the_name_says_when_and_what_is_in_it_and_other_files_are_passed_over(tmp_path: Path) -> None:
    name = named(NOW, "2028-11-29-seal-1234-9f3c71d0", "sqlite")
    assert name == "gaugebook-20281130T090000Z-2028-11-29-seal-1234-9f3c71d0.sqlite3"
    for other in (name, named(NOW - timedelta(hours=1), "empty-00000000", "postgresql"), "holiday.jpg", f"{name}.part"):
        (tmp_path / other).write_bytes(b"12")
    assert [(one.at, one.number, one.size) for one in copies_in(tmp_path)] == [
        (NOW, 1234, 2),
        (NOW - timedelta(hours=1), 0, 2),
    ]
    assert copies_in(tmp_path / "nowhere") == []
    assert NAME.fullmatch("gaugebook-2028-11-29-seal-1234-9f3c71d0.sqlite3") is None


@pytest.fixture
def place(tmp_path: Path, settings) -> Path:
    settings.COPIES_FOLDER, settings.COPIES_SECOND_FOLDER, settings.SAYS_COPIES = str(tmp_path), "", True
    said.forget()
    yield tmp_path
    said.forget()


def lay(place: Path, at: datetime) -> None:
    (place / named(at, "2028-11-29-seal-1-9f3c71d0", "sqlite")).write_bytes(b"")


@pytest.mark.django_db
def test_the_name_bar_says_how_old_the_newest_is_and_to_look_beyond_48_hours(place: Path, monkeypatch) -> None:
    monkeypatch.setattr(said, "short_of_room", lambda connection: [])
    lay(place, NOW - timedelta(hours=47))
    fresh = said.said_now(NOW)
    assert fresh is not None
    assert (fresh.text, fresh.state) == ("Copied 47 h ago", None)
    old = said.said_now(NOW + timedelta(hours=2))
    assert old is not None
    assert (old.text, old.state.word) == ("Copied 2 days ago", "Look")
    assert "more than 48 h old" in old.sentences[0]


@pytest.mark.django_db
def test_books_that_were_never_copied_and_a_second_place_without_copies_ask_to_look(
    place: Path, settings, monkeypatch
) -> None:
    monkeypatch.setattr(said, "short_of_room", lambda connection: [])
    with written_by(None, "tests"):
        somebody("alder")
    never = said.said_now(NOW + timedelta(days=3000))
    assert never is not None
    assert (never.text, never.state.word) == ("Not copied yet", "Look")
    lay(place, NOW)
    settings.COPIES_SECOND_FOLDER = str(place / "stick")
    second = said.said_now(NOW)
    assert second is not None
    assert "is its disk there?" in second.sentences[0]


@pytest.mark.django_db
def test_little_room_is_said_before_there_is_none(place: Path, monkeypatch) -> None:
    monkeypatch.setattr("shutil.disk_usage", lambda where: type("Usage", (), {"free": 300_000_000})())
    lay(place, NOW)
    found = said.said_now(NOW)
    assert found is not None
    assert found.state.word == "Look"
    assert "has 300 MB left, and 500 MB are wanted" in found.sentences[0]


@pytest.mark.django_db
def test_the_page_of_copies_is_for_who_keeps_the_plant(
    place: Path, manager, staff, browser_of: Callable, monkeypatch
) -> None:
    monkeypatch.setattr(said, "short_of_room", lambda connection: [])
    lay(place, datetime.now(UTC) - timedelta(hours=3))
    page = browser_of(manager).get(reverse("copies")).content.decode()
    for words in ("Copied 3 h ago", "now: none has held yet", "COPIES_SECOND_FOLDER", "Try the newest copy"):
        assert words in page
    assert browser_of(staff).get(reverse("copies")).status_code == 403
    assert browser_of(staff).post(reverse("copies_drill")).status_code == 403
    # Everybody sees the age.
    assert "Copied 3 h ago" in browser_of(staff).get(reverse("shift")).content.decode()
    asked = browser_of(manager).post(reverse("copies_drill"))
    assert asked["Location"] == reverse("job", args=[Job.objects.get().pk])
