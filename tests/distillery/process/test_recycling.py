"""Where a still house settles and what a period yields, against worked figures (tests/data/process_checks.csv)."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from distillery.alcoholometry.errors import CannotReach, OutOfRange
from distillery.process.recycling import (
    Shares,
    charges_to_settle,
    first_charges,
    steady,
    yield_efficiency_percent,
    yield_lpa_per_tonne,
)
from tests.distillery.process.process_checks import check, expected, inputs, tolerance


def is_expected(key: str, found: float) -> bool:
    return found == pytest.approx(expected(key), abs=tolerance(key) or 1e-12)


def test_where_it_settles() -> None:
    given = inputs("P051")
    settled = steady(low_wines_lpa=given["L"], shares=Shares(recycled=given["r"], lost=given["z"]))
    assert is_expected("P051", settled.recycled_lpa)
    assert is_expected("P052", settled.charge_lpa)
    assert is_expected("P053", settled.spirit_lpa)
    assert is_expected("P054", settled.lost_percent_of_fresh)


def test_how_it_settles_from_an_empty_receiver() -> None:
    given = inputs("P055")
    shares = Shares(recycled=given["r"], lost=1 - given["r"] - given["s"])
    found = first_charges(8, low_wines_lpa=given["L"], shares=shares, recycled_lpa=given["R1"])
    assert [one.spirit_lpa for one in found] == pytest.approx(
        [float(one) for one in check("P055").expected.split()], abs=tolerance("P055")
    )


def test_charges_until_it_has_settled() -> None:
    assert charges_to_settle(inputs("P056")["r"]) == expected("P056")
    assert charges_to_settle(0.0) == 1
    # 0.1 squared is not below 0.01.
    assert charges_to_settle(0.1) == 3
    with pytest.raises(OutOfRange):
        charges_to_settle(1.0)
    with pytest.raises(OutOfRange):
        charges_to_settle(0.5, within=0.0)


def test_yield_of_a_period() -> None:
    given = inputs("P062")
    found = yield_lpa_per_tonne(
        spirit_lpa=given["spirit_lpa"],
        feints_open_lpa=given["feints_open_lpa"],
        feints_close_lpa=given["feints_close_lpa"],
        malt_kilograms=given["malt_kg"],
    )
    assert is_expected("P062", found)
    given = inputs("P063")
    assert is_expected(
        "P063", yield_efficiency_percent(yield_lpa_per_tonne=given["yield"], predicted_lpa_per_tonne=given["psy"])
    )


@pytest.mark.parametrize("key", ["P119", "P120"])
def test_yields_of_the_trade(key: str) -> None:
    given = inputs(key)
    found = yield_lpa_per_tonne(
        spirit_lpa=given["lpa"], feints_open_lpa=0, feints_close_lpa=0, malt_kilograms=given["malt_kg"]
    )
    assert is_expected(key, found)


def test_without_malt_or_prediction_there_is_none() -> None:
    with pytest.raises(CannotReach):
        yield_lpa_per_tonne(spirit_lpa=1, feints_open_lpa=0, feints_close_lpa=0, malt_kilograms=0)
    with pytest.raises(CannotReach):
        yield_efficiency_percent(yield_lpa_per_tonne=400, predicted_lpa_per_tonne=0)
    with pytest.raises(CannotReach):
        steady(low_wines_lpa=0, shares=Shares(recycled=0.5, lost=0))


def test_shares_of_a_run() -> None:
    found = Shares.of_a_run(charged_lpa=2000, spirit_lpa=980, recycled_lpa=1010)
    assert (found.recycled, found.spirit, found.lost) == pytest.approx((0.505, 0.49, 0.005))
    with pytest.raises(OutOfRange):
        Shares.of_a_run(charged_lpa=2000, spirit_lpa=1500, recycled_lpa=1010)
    with pytest.raises(OutOfRange):
        Shares(recycled=0.6, lost=0.5)


@given(st.floats(1, 1e5), st.floats(0, 0.9), st.floats(0, 1))
def test_what_comes_in_goes_out_once_it_has_settled(fresh: float, recycled: float, part: float) -> None:
    shares = Shares(recycled=recycled, lost=(1 - recycled) * part)
    settled = steady(low_wines_lpa=fresh, shares=shares)
    assert settled.spirit_lpa + settled.lost_lpa == pytest.approx(fresh)
    later = first_charges(400, low_wines_lpa=fresh, shares=shares)[-1]
    assert later.charge_lpa == pytest.approx(settled.charge_lpa)
