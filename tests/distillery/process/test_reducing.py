"""Reductions, mixed vats, filters, standing vats, against computed values (tests/data/process_checks.csv)."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from distillery.alcoholometry.errors import CannotReach
from distillery.alcoholometry.mixing import Part
from distillery.process.reducing import evaporated_percent_a_day, is_mixed, known_loss_lpa, mixing_says, reductions
from tests.distillery.process.process_checks import check, inputs


def test_one_reduction() -> None:
    given = inputs("P073")
    start = Part(given["litres"], given["abv_from"])
    (one,) = reductions(start, [given["abv_to"]])
    assert check("P073").met_by(one.water.litres20)
    assert check("P074").met_by(one.water.water_kilograms)
    assert check("P075").met_by(one.water.contraction_litres20)
    # Water weighs 0.11 % less in air.
    assert one.water_kilograms_in_air == pytest.approx(one.water.water_kilograms * 0.9989, rel=1e-4)
    back = mixing_says(start, water_kilograms=one.water.water_kilograms)
    assert back.percent20 == pytest.approx(63.5, abs=1e-6)


@given(st.floats(40, 90), st.floats(10, 35), st.floats(0.05, 0.95))
def test_several_want_as_much_water_as_one(start: float, target: float, share: float) -> None:
    between = target + share * (start - target)
    there = Part(1000, start)
    (whole,) = reductions(there, [target])
    both = reductions(there, [between, target])
    assert sum(one.water.water_kilograms for one in both) == pytest.approx(whole.water.water_kilograms, rel=1e-6)
    assert both[-1].water.litres20 == pytest.approx(whole.water.litres20, rel=1e-6)


def test_a_target_above_what_is_there() -> None:
    with pytest.raises(CannotReach):
        reductions(Part(1000, 60), [50, 55])


def test_two_strengths_say_whether_it_is_mixed() -> None:
    # Two readings within 0.1: common practice, no source.
    assert is_mixed([63.5, 63.6], apart_percent=0.1)
    assert not is_mixed([63.5, 63.61], apart_percent=0.1)
    with pytest.raises(CannotReach):
        is_mixed([63.5], apart_percent=0.1)


def test_what_a_filter_kept() -> None:
    # Worked by hand: 3 litres at 46.0.
    assert known_loss_lpa(litres_in=1000, litres_out=997, percent20=46) == pytest.approx(1.38)


def test_what_a_standing_vat_lost_a_day() -> None:
    # Worked by hand: 1 of 500 in 10 days.
    assert evaporated_percent_a_day(before_lpa=500, after_lpa=499, days=10) == pytest.approx(0.02)
    with pytest.raises(CannotReach):
        evaporated_percent_a_day(before_lpa=500, after_lpa=499, days=0)
