"""Strength by volume, mass and density; air and vacuum kept apart."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from published_tables import rows

from distillery.alcoholometry.errors import AirTakenForVacuum, NoSuchMixture, OutOfRange, UnstatedBasis
from distillery.alcoholometry.reading import percent_of_density
from distillery.alcoholometry.strength import (
    AirDensity,
    VacuumDensity,
    air_density20_of_percent,
    density20_of_percent,
    grams_per_litre,
    mass_fraction_of_percent_vol,
    percent_mass_of_percent_vol,
    percent_of_air_density20,
    percent_of_density20,
    percent_vol_of_mass_fraction,
    percent_vol_of_percent_mass,
)

strengths = st.floats(0, 100)


@settings(max_examples=300)
@given(strengths)
def test_strength_to_density_and_back(percent):
    # Below a thousandth of a percent the digits of a density are fewer than nine significant ones of the strength.
    assert percent_of_density20(density20_of_percent(percent)) == pytest.approx(percent, rel=1e-9, abs=1e-12 * 100)


@settings(max_examples=300)
@given(strengths)
def test_strength_to_density_in_air_and_back(percent):
    assert percent_of_air_density20(air_density20_of_percent(percent)) == pytest.approx(percent, rel=1e-9, abs=2e-9)


@settings(max_examples=300)
@given(strengths)
def test_strength_by_volume_to_mass_and_back(percent):
    assert percent_vol_of_percent_mass(percent_mass_of_percent_vol(percent)) == pytest.approx(percent, rel=1e-9)


@given(st.floats(0, 99.999), st.floats(1e-3, 50))
def test_strength_falls_as_density_rises(percent, more):
    stronger = min(100.0, percent + more)
    assert density20_of_percent(stronger) < density20_of_percent(percent)


def test_ends_are_exact():
    assert mass_fraction_of_percent_vol(0) == 0
    assert mass_fraction_of_percent_vol(100) == 1
    assert percent_vol_of_mass_fraction(1) == 100
    assert percent_of_density20(density20_of_percent(0)) == 0
    assert percent_of_density20(density20_of_percent(100)) == 100


def test_strength_depends_on_where_both_volumes_are_taken():
    """Worked with the formula: 40.00 % at 20 °C is 39.93 % at 60 °F, 63.5 is 63.45, 95 is 94.99."""
    for at_20, at_60 in ((40.0, 39.93), (50.0, 49.94), (63.5, 63.45), (95.0, 94.99)):
        p = mass_fraction_of_percent_vol(at_20)
        assert percent_vol_of_mass_fraction(p, reference_celsius=140 / 9) == pytest.approx(at_60, abs=0.005)


def test_grams_per_litre():
    """Density of ethanol at 20 °C, 789.24 kg/m³ (OIML R 22:1975)."""
    assert grams_per_litre(40) == pytest.approx(40 * 7.8924, abs=0.01)


def test_air_taken_for_vacuum_is_refused_by_name():
    in_air = air_density20_of_percent(40)
    with pytest.raises(AirTakenForVacuum, match="in air"):
        percent_of_density20(in_air)
    with pytest.raises(AirTakenForVacuum, match="in vacuum"):
        percent_of_air_density20(density20_of_percent(40))
    with pytest.raises(AirTakenForVacuum):
        percent_of_density(density=in_air, celsius=20)
    assert in_air != density20_of_percent(40)


@pytest.mark.parametrize("bare", [948.05, "948.05", None])
def test_density_without_basis_is_refused(bare):
    with pytest.raises(UnstatedBasis, match="in air or in vacuum"):
        percent_of_density20(bare)
    with pytest.raises(UnstatedBasis):
        percent_of_air_density20(bare)


def test_size_of_the_mistake_the_types_prevent():
    """Worked with the formula: a density in air read as one in vacuum is 0.65 % vol high at 40, 0.27 at 96."""
    for percent, excess in ((40, 0.65), (63.5, 0.46), (96, 0.27)):
        mistaken = percent_of_density20(VacuumDensity(air_density20_of_percent(percent).kg_per_m3))
        assert mistaken - percent == pytest.approx(excess, abs=0.006)


def test_air_of_the_published_pair():
    """OIML D 28, conventional mass: 788.157 for ethanol and 997.151 for water with air 1.2 and weights 8000."""
    assert density20_of_percent(100).in_air().kg_per_m3 == pytest.approx(788.157, abs=6e-4)
    assert density20_of_percent(0).in_air().kg_per_m3 == pytest.approx(997.151, abs=6e-4)


def test_mass_percent_of_forty_percent():
    row = next(row for row in rows("process_checks") if row["id"] == "P118")
    assert percent_mass_of_percent_vol(40) == pytest.approx(float(row["expected"]), abs=float(row["tolerance"]))


@pytest.mark.parametrize("percent", [-0.001, 100.001])
def test_strength_outside_is_refused(percent):
    with pytest.raises(OutOfRange):
        mass_fraction_of_percent_vol(percent)
    with pytest.raises(OutOfRange):
        percent_vol_of_percent_mass(percent)


def test_density_in_grams_per_millilitre_is_caught():
    with pytest.raises(OutOfRange, match="kg/m³"):
        VacuumDensity(0.94805)
    with pytest.raises(OutOfRange):
        AirDensity(0.947)


def test_density_of_no_spirit_is_refused():
    with pytest.raises(NoSuchMixture):
        percent_of_density20(VacuumDensity(1010.0))
