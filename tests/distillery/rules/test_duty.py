"""Duty against figures of law: HMRC's published rates, and the worked figures of its return and guides."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from distillery.rules.duty import duty_lpa, duty_on, duty_strength
from distillery.rules.in_force import NoDutyRate, duty_rate
from distillery.rules.models import DutyRate

pytestmark = pytest.mark.django_db


def at_pounds(pounds: str) -> DutyRate:
    return DutyRate(pence_hundredths_per_lpa=int(Decimal(pounds) * 10_000))


# Alcoholic products technical guide, section 11, GOV.UK: 7.59 is declared as 7.5.
@pytest.mark.parametrize(
    ("measured", "declared"), [("7.59", "7.5"), ("57.86", "57.8"), ("40.0", "40.0"), ("43", "43.0"), ("39.99", "39.9")]
)
def test_strength_is_cut_down_to_one_decimal(measured: str, declared: str) -> None:
    assert str(duty_strength(Decimal(measured))) == declared


# HMRC, description of the figures that the Alcohol Duty return carries, 2025-26: its two worked lines.
@pytest.mark.parametrize(("lpa", "pounds", "pence"), [("100.1010", "1.27", 12712), ("200.2022", "1.57", 31431)])
def test_part_of_a_penny_is_dropped(lpa: str, pounds: str, pence: int) -> None:
    assert duty_on(Decimal(lpa), at_pounds(pounds)) == pence


# Rates: HMRC published rates data, periods 2025-1 and 2026-2. Volumes invented; products worked by hand:
# 33.6 x 33.99 = 1142.064; 180.6 x 32.79 = 5921.874; 180.6 x 33.99 = 6138.594;
# 469.5672 x 33.99 = 15960.589128; 39.6 x 26.61 = 1053.756.
@pytest.mark.parametrize(
    ("litres20", "percent", "day", "lpa", "pence"),
    [
        pytest.param("84.00", "40.0", date(2026, 11, 2), "33.6000", 114206, id="120 bottles of 70 cl"),
        pytest.param("420.00", "43.0", date(2026, 1, 31), "180.6000", 592187, id="last day of a rate"),
        pytest.param("420.00", "43.0", date(2026, 2, 1), "180.6000", 613859, id="first day of the next"),
        pytest.param("812.40", "57.86", date(2026, 11, 2), "469.5672", 1596058, id="vat by measured strength"),
        pytest.param("792.00", "5.0", date(2026, 2, 1), "39.6000", 105375, id="2,400 cans below 8.5 %"),
    ],
)
def test_duty_of_a_line(litres20: str, percent: str, day: date, lpa: str, pence: int) -> None:
    rate = duty_rate(day, Decimal(percent))
    due_on = duty_lpa(Decimal(litres20), Decimal(percent))
    assert str(due_on) == lpa
    assert duty_on(due_on, rate) == pence


# HMRC published rates data (2023-1, 2026-2) and Finance Acts 2015 s.53, 2017 s.21; tax types from the rates data.
@pytest.mark.parametrize(
    ("day", "percent", "pounds", "tax_type"),
    [
        (date(2015, 3, 22), "40", "28.22", ""),
        (date(2015, 3, 23), "40", "27.66", ""),
        (date(2017, 3, 12), "40", "27.66", ""),
        (date(2017, 3, 13), "40", "28.74", ""),
        (date(2023, 7, 31), "40", "28.74", ""),
        (date(2023, 8, 1), "40", "31.64", "345"),
        (date(2025, 1, 31), "40", "31.64", "345"),
        (date(2025, 2, 1), "40", "32.79", "345"),
        (date(2026, 2, 1), "22.1", "33.99", "345"),
        (date(2026, 2, 1), "22.09", "30.62", "335"),
        (date(2026, 2, 1), "8.5", "30.62", "335"),
        (date(2026, 2, 1), "8.49", "26.61", "325"),
        (date(2026, 2, 1), "3.4", "9.96", "315"),
        (date(2026, 2, 1), "1.3", "9.96", "315"),
    ],
)
def test_rate_of_the_duty_point(day: date, percent: str, pounds: str, tax_type: str) -> None:
    rate = duty_rate(day, Decimal(percent))
    assert Decimal(rate.pence_hundredths_per_lpa) / 10_000 == Decimal(pounds)
    assert rate.tax_type == tax_type
    assert rate.source


# Before the table starts; and at 1.2 % or below no duty is charged (Finance (No. 2) Act 2023, from 1.3 %).
@pytest.mark.parametrize(("day", "percent"), [(date(2014, 3, 23), "40"), (date(2026, 2, 1), "1.29")])
def test_no_rate_is_guessed(day: date, percent: str) -> None:
    with pytest.raises(NoDutyRate, match=r"No duty rate is set .* Enter the rate"):
        duty_rate(day, Decimal(percent))
