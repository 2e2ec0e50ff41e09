"""Ages against the excise reference: worked check 12, rows E12, E16 and E22."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from distillery.process.ageing import (
    NO_TIME,
    Age,
    after_stay,
    statement_holds,
    whole_years,
    years_of_calendar,
    youngest,
)

FILLED = datetime(2016, 5, 14, 9, tzinfo=UTC)
MOST = 700.0


def in_cask(age: Age, start: datetime, end: datetime, litres: float | None = 200.0) -> Age:
    return after_stay(age, start, end, litres=litres, most_litres=MOST)


def test_the_worked_statement() -> None:
    """Worked check 12: casks filled 14 May 2016 and 2 December 2017, vatted 25 November 2026: at most 8 years."""
    vatted = datetime(2026, 11, 25, 9, tzinfo=UTC)
    later = datetime(2017, 12, 2, 9, tzinfo=UTC)
    old = in_cask(Age(NO_TIME, "CF1"), FILLED, vatted)
    young = in_cask(Age(NO_TIME, "CF2"), later, vatted)
    found = youngest([old, young])
    assert found is not None
    assert found.since == "CF2"
    began = found.began(vatted).date()
    assert whole_years(began, vatted.date()) == 8
    assert statement_holds(8, began, vatted.date())
    assert not statement_holds(9, began, vatted.date())
    assert statement_holds(9, began, date(2026, 12, 2))


def test_steel_stops_it_and_large_casks_add_nothing() -> None:
    """Section 4.2: age runs only in oak of at most 700 litres; racking to steel stops it (regulation 3(1)(c), (f))."""
    one = FILLED + timedelta(days=365)
    two = one + timedelta(days=365)
    racked = in_cask(in_cask(Age(NO_TIME, "CF1"), FILLED, one), one, two, litres=None)
    assert racked.in_wood == timedelta(days=365)
    large = in_cask(racked, two, two + timedelta(days=900), litres=701.0)
    assert large.in_wood == timedelta(days=365)
    assert large.largest_litres == 701.0
    assert in_cask(racked, two, two + timedelta(days=9), litres=700.0).in_wood == timedelta(days=374)


def test_three_years_to_the_day() -> None:
    """Row E12: at least 3 years."""
    assert years_of_calendar(date(2024, 3, 1), date(2027, 2, 28)) < 3
    assert years_of_calendar(date(2024, 3, 1), date(2027, 3, 1)) == 3


@pytest.mark.parametrize(("on", "years"), [(date(2025, 2, 28), 0), (date(2025, 3, 1), 1), (date(2028, 2, 29), 4)])
def test_what_began_on_the_29th_of_february(on: date, years: int) -> None:
    assert whole_years(date(2024, 2, 29), on) == years


@given(st.dates(date(1990, 1, 1), date(2060, 1, 1)), st.integers(0, 20_000))
def test_the_days_beyond_never_make_a_year(began: date, days: int) -> None:
    on = began + timedelta(days=days)
    found, whole = years_of_calendar(began, on), whole_years(began, on)
    assert whole <= found < whole + 1
    assert found == pytest.approx(days / 365.25, abs=0.01)


@given(st.lists(st.integers(0, 9000), min_size=1, max_size=6))
def test_nothing_is_younger_than_the_youngest(days: list[int]) -> None:
    found = youngest(Age(timedelta(days=one), f"CF{one}") for one in days)
    assert found is not None
    assert found.in_wood == timedelta(days=min(days))
