"""Ticks a person can count by, and times as a clock shows them.

The rules checked are those the module states (steps of 1, 2 and 5; times on the site's clock); the expected
values are worked by hand. Summer time ends at 01:00 GMT on 25 October 2026: Summer Time Order 2002, from memory.
"""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from distillery.charts.scales import Scale, apart, domain, ticks, time_ticks

LONDON = ZoneInfo("Europe/London")


@pytest.mark.parametrize(
    ("low", "high", "at_most", "values", "places"),
    [
        (0, 100, 6, (0, 20, 40, 60, 80, 100), 0),
        (49.2, 76.1, 6, (50, 55, 60, 65, 70, 75), 0),
        (-1.62, 1.17, 6, (-1.5, -1.0, -0.5, 0.0, 0.5, 1.0), 1),
        (0.0, 0.5, 6, (0.0, 0.1, 0.2, 0.3, 0.4, 0.5), 1),
        (998, 1064, 4, (1000, 1020, 1040, 1060), 0),
        (0, 2_500_000, 6, (0, 500_000, 1_000_000, 1_500_000, 2_000_000, 2_500_000), 0),
    ],
)
def test_ticks_by_hand(low: float, high: float, at_most: int, values: tuple[float, ...], places: int) -> None:
    found = ticks(low, high, at_most)
    assert found.values == values
    assert found.places == places


@given(
    st.floats(min_value=-1e9, max_value=1e9),
    st.floats(min_value=-1e9, max_value=1e9),
    st.integers(min_value=2, max_value=12),
)
def test_ticks_are_few_round_and_inside(low: float, high: float, at_most: int) -> None:
    assume(high - low > 1e-6 * max(1.0, abs(low), abs(high)))
    found = ticks(low, high, at_most)
    assert 1 <= len(found.values) <= at_most
    slack = (high - low) * 1e-6
    assert all(low - slack <= value <= high + slack for value in found.values)
    for value in found.values:
        assert float(f"{value:.{found.places}f}") == value
    if len(found.values) > 1:
        step = found.values[1] - found.values[0]
        leading = step / 10.0 ** math.floor(math.log10(step * 1.0001))
        assert min(abs(leading - multiple) for multiple in (1, 2, 5)) < 1e-3


@pytest.mark.parametrize(("low", "high"), [(1, 1), (2, 1), (0, math.inf), (math.nan, 1)])
def test_no_ticks_without_a_range(low: float, high: float) -> None:
    with pytest.raises(ValueError, match="No ticks"):
        ticks(low, high)


def test_a_scale_runs_both_ways() -> None:
    up = Scale(50, 100, start=240, end=40)
    assert up.at(50) == 240
    assert up.at(100) == 40
    assert up.at(75) == 140


@given(st.lists(st.floats(min_value=-1e6, max_value=1e6), min_size=1))
def test_a_domain_holds_its_values_with_room(values: list[float]) -> None:
    low, high = domain(values, least=2.0)
    assert low < min(values)
    assert high > max(values)
    assert high - low >= 2.0 - 1e-9


@pytest.mark.parametrize("values", [[], [math.nan], [1.0, math.inf]])
def test_no_domain_without_finite_values(values: list[float]) -> None:
    with pytest.raises(ValueError, match="finite"):
        domain(values)


def _clock(whens: tuple[datetime, ...]) -> list[str]:
    return [f"{when.astimezone(LONDON):%H:%M}" for when in whens]


def test_hours_of_a_night_shift() -> None:
    start = datetime(2026, 11, 24, 22, 45, tzinfo=UTC)
    whens, step = time_ticks(start, start + timedelta(hours=6, minutes=30))
    assert step == timedelta(hours=1)
    assert _clock(whens) == ["23:00", "00:00", "01:00", "02:00", "03:00", "04:00", "05:00"]


def test_minutes_of_a_short_one() -> None:
    start = datetime(2026, 11, 24, 22, 47, tzinfo=UTC)
    whens, step = time_ticks(start, start + timedelta(minutes=31))
    assert step == timedelta(minutes=5)
    assert _clock(whens)[:2] == ["22:50", "22:55"]


def test_the_hour_that_comes_twice_has_its_ticks_twice() -> None:
    start = datetime(2026, 10, 24, 23, 0, tzinfo=UTC)
    whens, step = time_ticks(start, start + timedelta(hours=5))
    assert step == timedelta(hours=1)
    assert _clock(whens) == ["00:00", "01:00", "01:00", "02:00", "03:00", "04:00"]


def test_days_stay_at_midnight_over_a_change_of_clocks() -> None:
    start = datetime(2026, 10, 22, 8, 0, tzinfo=UTC)
    whens, step = time_ticks(start, start + timedelta(days=7))
    assert step == timedelta(days=1)
    assert set(_clock(whens)) == {"00:00"}
    assert len(whens) == 7


@given(
    st.datetimes(min_value=datetime(2000, 1, 1), max_value=datetime(2060, 1, 1), timezones=st.just(UTC)),
    st.timedeltas(min_value=timedelta(minutes=2), max_value=timedelta(days=9000)),
    st.integers(min_value=3, max_value=12),
)
def test_times_are_few_rising_and_inside(start: datetime, length: timedelta, at_most: int) -> None:
    whens, _ = time_ticks(start, start + length, at_most)
    assert len(whens) <= at_most
    assert list(whens) == sorted(set(whens))
    assert all(start <= when <= start + length for when in whens)


def test_no_time_ticks_backwards() -> None:
    start = datetime(2026, 11, 24, tzinfo=UTC)
    with pytest.raises(ValueError, match="after its start"):
        time_ticks(start, start)


@given(st.lists(st.floats(min_value=0, max_value=300), max_size=8))
def test_labels_stand_apart_in_their_order(places: list[float]) -> None:
    moved = apart(places, 16)
    ordered = sorted(moved)
    assert all(after - before >= 16 - 1e-9 for before, after in pairwise(ordered))
    assert all(new >= old for new, old in zip(moved, places, strict=True))
