"""Sums of casks against published and computed values (`tests/data/process_checks.csv`: P078 to P087, P117)."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from distillery.alcoholometry.errors import AlcoholometryError, OutOfRange
from distillery.process.maturing import (
    FLASH_POINTS,
    Gauged,
    beside_band,
    beside_document,
    ethanol_lost_pounds_a_year,
    flash_point_celsius,
    large_pack_tolerance_litres,
    strength_at_age,
    weighed_contents,
)
from distillery.rules.cask_loss import YearlyBand, kept_share, yearly_loss_percent
from tests.distillery.process.process_checks import check, inputs


def test_a_document_that_does_not_agree_with_itself() -> None:
    said = inputs("P078")  # www.kingsbarnsdistillery.com, first cask, 2015
    found = beside_document(litres=said["litres"], percent=said["abv"], stated_lpa=said["lpa"])
    assert check("P078").expected.startswith("flag")
    assert not found.agrees
    assert found.lpa == pytest.approx(114.9, abs=0.05)
    assert beside_document(litres=181, percent=64.0, stated_lpa=115.9).agrees


def test_a_cask_by_its_weights() -> None:
    """Net over the density in air, (rho - 1.2) / (1 - 0.00015) kg/m3; at 60 % rho is 909.11 kg/m3 ('Dilution of
    ethanol', www.plantagea.hr, second-hand)."""
    found = weighed_contents(gross_kg=218.0, tare_kg=54.2, percent20=60.0)
    assert found.litres20 == pytest.approx((218.0 - 54.2) / (909.11 - 1.2) * (1 - 0.00015) * 1000, rel=5e-5)
    assert found.lpa == pytest.approx(found.litres20 * 0.60, rel=1e-9)
    with pytest.raises(AlcoholometryError):
        weighed_contents(gross_kg=50.0, tare_kg=54.2, percent20=60.0)


@pytest.mark.parametrize(("number", "metered"), [("P079", True), ("P080", False)])
def test_how_far_a_large_pack_may_exceed_its_label(number: str, metered: bool) -> None:
    pack = inputs(number)["pack_l"]  # SI 2023/806, Schedule 1
    assert check(number).met_by(large_pack_tolerance_litres(pack_litres=pack, metered=metered))


@pytest.mark.parametrize(
    ("pack", "metered", "litres"),
    [
        (50.0, True, 0.5),
        (100.0, True, 0.5),
        (300.0, True, 1.5),
        (10.5, False, 1.0),
        (100.0, False, 1.0),
        (100.5, False, 2.0),
        (200.0, False, 2.0),
        (200.5, False, 3.0),
        (400.0, False, 3.0),
    ],
)
def test_the_tolerance_of_a_large_pack_by_its_size(pack: float, metered: bool, litres: float) -> None:
    """SI 2023/806, Schedule 1: half a litre or 0.5 % above 100 L; 1, 2 and 3 L up to 100, up to 200 and above."""
    assert large_pack_tolerance_litres(pack_litres=pack, metered=metered) == pytest.approx(litres)


@pytest.mark.parametrize("pack", [10.0, 400.5])
def test_what_is_no_large_pack(pack: float) -> None:
    with pytest.raises(OutOfRange, match="no large pack"):
        large_pack_tolerance_litres(pack_litres=pack, metered=True)


@pytest.mark.parametrize("number", ["P081", "P082", "P083"])
def test_what_a_cask_should_hold(number: str) -> None:
    row = check(number)
    assert row.met_by(row.given("lpa0") * kept_share(row.given("rate"), row.given("years")))


def test_the_wood_holds_its_share_besides() -> None:
    """E(t) = L0 (1 - w) (1 - a)^t, w taken up in the first year: process reference, section H."""
    band = YearlyBand(0.01, 0.03)
    left = band.left_after(10, wood_held=0.02)
    assert 127.0 * left.middle == pytest.approx(127.0 * 0.98 * 0.98**10)
    assert band.left_after(0.5, wood_held=0.02).most == pytest.approx(0.99 * 0.99**0.5)
    assert band.left_after(3) == band.left_after(3, wood_held=0.0)


def test_a_gauge_below_its_band() -> None:
    row = inputs("P084")
    least = row["lpa0"] * kept_share(0.03, row["years"])
    assert check("P084").expected == "red: below 93.15"
    assert least - row["u95"] == pytest.approx(93.15, abs=0.005)
    said = {"least_lpa": least, "held_lpa": row["lpa0"], "u95_lpa": row["u95"]}
    assert beside_band(lpa=row["lpa"], **said) == Gauged.BELOW
    assert beside_band(lpa=93.2, **said) == Gauged.WITHIN


@pytest.mark.parametrize(("lpa", "said"), [(100.9, Gauged.WITHIN), (101.2, Gauged.GAINED), (101.6, Gauged.HOLD)])
def test_a_cask_cannot_gain(lpa: float, said: Gauged) -> None:
    """Process reference, section H: a gain beyond U95 is measured again, beyond 1.5 U95 held."""
    assert beside_band(lpa=lpa, least_lpa=90.0, held_lpa=100.0, u95_lpa=1.0) == said


def test_strength_at_its_age() -> None:
    row = inputs("P085")
    aged = strength_at_age(
        percent=row["abv0"], lpa_share=row["lpa_rate"], bulk_share=row["bulk_rate"], years=row["years"]
    )
    assert check("P085").met_by(aged)


@given(st.floats(0, 0.2), st.floats(0, 0.2), st.floats(0, 30), st.floats(0, 30))
def test_ageing_twice_is_ageing_once(a: float, b: float, first: float, then: float) -> None:
    start = strength_at_age(percent=20.0, lpa_share=a, bulk_share=b, years=first)
    if start <= 100:
        twice = strength_at_age(percent=start, lpa_share=a, bulk_share=b, years=then)
        assert twice == pytest.approx(strength_at_age(percent=20.0, lpa_share=a, bulk_share=b, years=first + then))


def test_ethanol_of_a_brandy_barrel() -> None:
    row = inputs("P086")
    pounds = ethanol_lost_pounds_a_year(us_gallons=row["us_gal"], percent=row["abv"], share=row["rate"])
    assert check("P086").met_by(pounds)
    assert pounds == pytest.approx(4.96, abs=0.03)  # as BAAQMD prints it


def test_a_year_of_two_regauges() -> None:
    row = inputs("P087")
    assert check("P087").met_by(yearly_loss_percent(row["lpa_1"], row["lpa_2"], row["years"]))


def test_flash_points() -> None:
    found = flash_point_celsius(inputs("P117")["abv"])
    assert found is not None
    assert check("P117").met_by(found)
    assert flash_point_celsius(0) is None
    assert flash_point_celsius(63.5) == 21.0


@given(st.floats(0.1, 100), st.floats(0.1, 100))
def test_the_stronger_the_lower(one: float, other: float) -> None:
    weaker, stronger = sorted((one, other))
    low, high = flash_point_celsius(stronger), flash_point_celsius(weaker)
    assert low is not None
    assert high is not None
    assert low <= high
    assert low in {celsius for _, celsius in FLASH_POINTS}


@pytest.mark.parametrize("share", [-0.1, 1.0, float("nan")])
def test_shares_that_cannot_be(share: float) -> None:
    with pytest.raises(AlcoholometryError):
        strength_at_age(percent=60, lpa_share=share, bulk_share=0.0, years=1)
