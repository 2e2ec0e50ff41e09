"""Figures as written: exact to the microlitre, one rounding, one look.

Expected strings are worked by hand from the rule: half to even on the last printed digit; comma in thousands
and 0 before a point as in the NHS digital service manual (Numbers, measurements). Summer time ends at 01:00
GMT on the last Sunday of October: Summer Time Order 2002 (SI 2002/262), from memory.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest
import time_machine
from hypothesis import given
from hypothesis import strategies as st

from distillery import figures

NOVEMBER = datetime(2026, 11, 25, 2, 12, tzinfo=UTC)


@pytest.mark.parametrize(
    ("pure_ul", "places", "shown"),
    [
        (1_289_600_000, 2, "1,289.60"),
        (470_000, 2, "0.47"),
        (0, 2, "0.00"),
        (-770_000, 2, "−0.77"),
        (84_210_400_000, 2, "84,210.40"),
        (84_210_400_000, 0, "84,210"),
        (1, 6, "0.000001"),
        (123_456_789, 4, "123.4568"),
        (9_223_372_036_854_775_807, 6, "9,223,372,036,854.775807"),
    ],
)
def test_litres_of_pure_alcohol(pure_ul: int, places: int, shown: str) -> None:
    assert figures.lpa(pure_ul, places) == shown


@pytest.mark.parametrize(
    ("pure_ul", "shown"),
    [
        (5_000, "0.00"),
        (15_000, "0.02"),
        (25_000, "0.02"),
        (25_001, "0.03"),
        (-15_000, "−0.02"),
        (995_000, "1.00"),
    ],
)
def test_a_half_goes_to_the_even_digit(pure_ul: int, shown: str) -> None:
    assert figures.lpa(pure_ul) == shown


def test_a_difference_too_small_to_print_is_not_minus_nothing() -> None:
    assert figures.lpa(-4_999) == "0.00"
    assert figures.number(-0.0, 1) == "0.0"
    assert figures.lpa(-4_999, style=figures.SIGNED) == "0.00"


@given(st.integers(min_value=-(2**63), max_value=2**63 - 1))
def test_six_decimals_give_back_every_microlitre(pure_ul: int) -> None:
    printed = figures.lpa(pure_ul, 6, figures.PLAIN)
    assert Decimal(printed) * 1_000_000 == pure_ul


@given(st.integers(min_value=-(2**63), max_value=2**63 - 1), st.integers(min_value=0, max_value=6))
def test_rounding_never_moves_a_figure_by_more_than_half_a_digit(pure_ul: int, places: int) -> None:
    printed = Decimal(figures.lpa(pure_ul, places, figures.PLAIN))
    assert abs(printed * 1_000_000 - pure_ul) * 2 <= 10 ** (6 - places)


@given(st.integers(min_value=1, max_value=2**63 - 1), st.integers(min_value=0, max_value=6))
def test_loss_and_gain_of_the_same_size_look_the_same(pure_ul: int, places: int) -> None:
    gain, loss = figures.lpa(pure_ul, places), figures.lpa(-pure_ul, places)
    assert loss.removeprefix("−") == gain


def test_the_plain_style_is_for_machines() -> None:
    assert figures.lpa(-1_289_600_000, style=figures.PLAIN) == "-1289.60"


def test_the_signed_style_marks_a_gain() -> None:
    assert figures.lpa(1_000_000, style=figures.SIGNED) == "+1.00"
    assert figures.lpa(-3_330_000, style=figures.SIGNED) == "−3.33"


def test_a_float_is_printed_from_what_a_person_would_call_it() -> None:
    # 2.675 is stored a little below itself, but a person who wrote it down meant 2.675.
    assert figures.percent(2.675, 2) == "2.68"
    assert figures.percent(62.5) == "62.5"
    assert figures.litres(5200.0, 0) == "5,200"
    assert figures.litres(0.25, 1) == "0.2"
    assert figures.celsius(-0.5) == "−0.5"
    assert figures.number(1e22) == "10,000,000,000,000,000,000,000"


def test_other_whole_quantities() -> None:
    assert figures.kilograms(1_234_560) == "1,234.6"
    assert figures.kilograms(1_234_567, 3) == "1,234.567"
    assert figures.litres_from_ul(2_410_050_000) == "2,410.0"
    assert figures.pounds(123_456) == "1,234.56"
    assert figures.count(412) == "412"


@pytest.mark.parametrize("value", [float("nan"), float("inf"), 1e300, Decimal("NaN")])
def test_what_is_not_a_figure_is_refused(value: float | Decimal) -> None:
    with pytest.raises(figures.UnprintableFigureError, match="no figure to print"):
        figures.number(value, 1)


@pytest.mark.parametrize("value", [1.5, True, Decimal(1)])
def test_a_fraction_is_refused_where_whole_microlitres_are_due(value: object) -> None:
    with pytest.raises(figures.UnprintableFigureError, match="whole number"):
        figures.lpa(value)  # type: ignore[arg-type]


@pytest.mark.parametrize("places", [-1, 10])
def test_decimals_outside_the_range_are_refused(places: int) -> None:
    with pytest.raises(figures.UnprintableFigureError, match="0 to 9"):
        figures.lpa(1, places)


@time_machine.travel(NOVEMBER, tick=False)
def test_the_year_is_written_when_it_is_not_the_present_one() -> None:
    assert figures.moment(NOVEMBER) == "Wed 25 Nov 02:12"
    assert figures.moment(NOVEMBER, year=True) == "Wed 25 Nov 2026 02:12"
    assert figures.day(date(2025, 11, 9)) == "Sun 9 Nov 2025"
    assert figures.day(date(2025, 11, 9), year=False) == "Sun 9 Nov"
    assert figures.day(datetime(2026, 7, 31, 23, 30, tzinfo=UTC)) == "Sat 1 Aug"
    assert figures.month(date(2026, 11, 1)) == "November 2026"


def test_summer_time_is_the_sites_own_clock() -> None:
    assert figures.clock(datetime(2026, 7, 1, 12, 0, tzinfo=UTC)) == "13:00"


def test_the_hour_that_comes_twice_names_its_zone() -> None:
    assert figures.clock(datetime(2026, 10, 25, 0, 30, tzinfo=UTC)) == "01:30 BST"
    assert figures.clock(datetime(2026, 10, 25, 1, 30, tzinfo=UTC)) == "01:30 GMT"
    assert figures.clock(datetime(2026, 10, 25, 2, 30, tzinfo=UTC)) == "02:30"


def test_the_night_the_clocks_go_forward_needs_no_zone() -> None:
    assert figures.clock(datetime(2026, 3, 29, 0, 59, tzinfo=UTC)) == "00:59"
    assert figures.clock(datetime(2026, 3, 29, 1, 0, tzinfo=UTC)) == "02:00"


def test_a_time_on_no_clock_is_refused() -> None:
    with pytest.raises(figures.UnprintableFigureError, match="no zone"):
        figures.moment(datetime(2026, 11, 25, 2, 12))


@pytest.mark.parametrize(
    ("length", "shown"),
    [
        (timedelta(minutes=45), "45 min"),
        (timedelta(seconds=59), "0 min"),
        (timedelta(minutes=100), "1 h 40 min"),
        (timedelta(hours=2), "2 h"),
        (timedelta(days=1), "1 day"),
        (timedelta(days=3, hours=4, minutes=59), "3 days 4 h"),
        (-timedelta(minutes=5), "−5 min"),
        (-timedelta(seconds=5), "0 min"),
    ],
)
def test_how_long(length: timedelta, shown: str) -> None:
    assert figures.span(length) == shown
