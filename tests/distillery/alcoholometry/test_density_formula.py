"""The general formula against its printed coefficients, published densities, other libraries and itself."""

from math import inf, nan

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from published_tables import allowed, figures, rows

from distillery.alcoholometry.errors import NoSuchMixture, NotANumber, OutOfRange
from distillery.alcoholometry.formula import A, B, C, density_kg_per_m3, isotherm
from distillery.alcoholometry.strength import (
    air_density20_of_percent,
    density20_of_percent,
    percent_mass_of_percent_vol,
)
from distillery.alcoholometry.wort import water_kg_per_m3

SIXTY_F = 140 / 9
fractions = st.floats(0, 1)


def by_coolprop(celsius: float, liquid: str) -> float:
    """Density in kg/m³ at 101 325 Pa. The library is slow to import, so only who asks it imports it."""
    from CoolProp.CoolProp import PropsSI

    return float(PropsSI("D", "T", celsius + 273.15, "P", 101325, liquid))


temperatures = st.floats(-20, 40)


def printed_sum(p: float, celsius: float) -> float:
    """The formula term by term, as OIML R 22 prints it."""
    d = celsius - 20
    return (
        A[0]
        + sum(A[k - 1] * p ** (k - 1) for k in range(2, 13))
        + sum(B[k - 1] * d**k for k in range(1, 7))
        + sum(c * p**k * d**i for i, family in enumerate(C, 1) for k, c in enumerate(family, 1))
    )


def test_every_coefficient_is_the_printed_one():
    """OIML R 22:1975 and Council Directive 76/766/EEC, Annex point 4."""
    families = {"A": {(0, k): a for k, a in enumerate(A)}, "B": {(i, 0): b for i, b in enumerate(B, 1)}}
    families["C"] = {(i, k): c for i, family in enumerate(C, 1) for k, c in enumerate(family, 1)}
    printed = rows("oiml_r22_coefficients")
    assert len(printed) == sum(len(family) for family in families.values()) == 54
    for row in printed:
        place = (int(row["i_power_of_t_minus_20"]), int(row["k_power_of_p"]))
        assert families[row["family"]][place] == float(row["value_kg_per_m3_per_C_power_i"])


def test_water_and_ethanol_at_20():
    """OIML R 22:1975 prints 998.20 and 789.24 at 20 °C, 771.93 at 40 °C."""
    assert density_kg_per_m3(mass_fraction=0, celsius=20) == pytest.approx(998.20, abs=0.005)
    assert density_kg_per_m3(mass_fraction=1, celsius=20) == pytest.approx(789.24, abs=0.005)
    assert density_kg_per_m3(mass_fraction=1, celsius=40) == pytest.approx(771.93, abs=0.005)


@given(fractions, temperatures)
def test_collapsed_polynomial_is_the_printed_sum(p, celsius):
    assert density_kg_per_m3(mass_fraction=p, celsius=celsius) == pytest.approx(printed_sum(p, celsius), abs=1e-8)


@pytest.mark.parametrize("name", ["density_by_mass_and_temperature", "oiml_r22_table_points"])
def test_published_density_by_mass_and_temperature(name):
    """US Bureau of Standards data; points of the tables of OIML R 22 (sources in the files)."""
    for percent_mass, celsius, density in figures(name):
        found = density_kg_per_m3(mass_fraction=percent_mass / 100, celsius=celsius)
        assert found == pytest.approx(density, abs=allowed(name))


def test_published_density_of_weak_mixtures():
    """Perry's Chemical Engineers' Handbook (source in the file)."""
    for percent_mass, density in figures("density_by_mass_20C_weak"):
        found = density_kg_per_m3(mass_fraction=percent_mass / 100, celsius=20)
        assert found == pytest.approx(density, abs=allowed("density_by_mass_20C_weak"))


@pytest.mark.parametrize(
    ("name", "fraction"), [("pure_ethanol_density_by_temperature", 1), ("pure_water_density_by_temperature", 0)]
)
def test_published_density_of_pure_liquids(name, fraction):
    """Sources in the files."""
    for celsius, density in figures(name):
        assert density_kg_per_m3(mass_fraction=fraction, celsius=celsius) == pytest.approx(density, abs=allowed(name))


def test_published_density_by_strength():
    """Sheet "Dilution of ethanol" (source in the file)."""
    for percent, density in figures("density_by_abv_20C"):
        assert density20_of_percent(percent).kg_per_m3 == pytest.approx(density, abs=allowed("density_by_abv_20C"))


def test_published_density_in_air():
    """Canadian Alcoholometric Laboratory Table 1996 (source in the file)."""
    for percent, density in figures("density_in_air_20C"):
        found = air_density20_of_percent(percent).kg_per_m3
        assert found == pytest.approx(density, abs=allowed("density_in_air_20C"))


def test_published_specific_gravity_in_air():
    """US Pharmacopeia 29, Alcoholometric Table."""
    for percent60, celsius, gravity in figures("specific_gravity_in_air_15_56C_and_25C"):
        at = isotherm(SIXTY_F if celsius == 15.56 else celsius)
        p = isotherm(SIXTY_F).mass_fraction_of_volume_fraction(percent60 / 100)
        air = 1.2
        found = (at.density(p) - air) / (at.water - air)
        assert found == pytest.approx(gravity, abs=allowed("specific_gravity_in_air_15_56C_and_25C"))


def test_published_mass_and_volume_percent_at_60_fahrenheit():
    """US Pharmacopeia 29, Alcoholometric Table."""
    at = isotherm(SIXTY_F)
    for percent60, percent_mass in figures("pct_vol_15_56C_to_pct_mass"):
        found = 100 * at.mass_fraction_of_volume_fraction(percent60 / 100)
        assert found == pytest.approx(percent_mass, abs=allowed("pct_vol_15_56C_to_pct_mass"))
    for percent_mass, percent60 in figures("pct_mass_to_pct_vol_15_56C"):
        found = 100 * at.volume_fraction(percent_mass / 100)
        assert found == pytest.approx(percent60, abs=allowed("pct_mass_to_pct_vol_15_56C"))


def test_state_by_strength_to_the_last_digit():
    """Worked with the formula; guards against slips of coding."""
    for row in rows("computed_state_by_abv_20C"):
        percent, mass, vacuum, air = (float(cell) for cell in list(row.values())[:4])
        assert percent_mass_of_percent_vol(percent) == pytest.approx(mass, abs=6e-5)
        assert density20_of_percent(percent).kg_per_m3 == pytest.approx(vacuum, abs=6e-4)
        assert air_density20_of_percent(percent).kg_per_m3 == pytest.approx(air, abs=6e-4)


def test_coolprop_knows_the_same_mixtures():
    """CoolProp, incompressible ethanol-water of 0 to 60 % mass: another fit, within 0.6 kg/m³ from 0 to 40 °C."""
    for percent_mass in range(0, 61, 4):
        for celsius in (0.5, 5, 10, 15, 20, 25, 30, 35, 39.5):
            theirs = by_coolprop(celsius, f"INCOMP::MEA[{percent_mass / 100}]")
            ours = density_kg_per_m3(mass_fraction=percent_mass / 100, celsius=celsius)
            assert ours == pytest.approx(theirs, abs=0.6)


def test_coolprop_second_fit_when_cold():
    """CoolProp, its second fit of 11 to 60 % mass, 20 °C and below: within 1.0 kg/m³."""
    for percent_mass in range(12, 61, 4):
        for celsius in (1, 5, 10, 15, 20):
            theirs = by_coolprop(celsius, f"INCOMP::MEA2[{percent_mass / 100}]")
            ours = density_kg_per_m3(mass_fraction=percent_mass / 100, celsius=celsius)
            assert ours == pytest.approx(theirs, abs=1.0)


def test_coolprop_knows_the_same_ends():
    """CoolProp, pure ethanol within 0.25 and pure water within 0.01 kg/m³ from 1 to 40 °C."""
    for celsius in range(1, 41, 3):
        ethanol, water = by_coolprop(celsius, "Ethanol"), by_coolprop(celsius, "Water")
        assert density_kg_per_m3(mass_fraction=1, celsius=celsius) == pytest.approx(ethanol, abs=0.25)
        assert density_kg_per_m3(mass_fraction=0, celsius=celsius) == pytest.approx(water, abs=0.01)
        assert water_kg_per_m3(celsius) == pytest.approx(water, abs=0.01)


@given(st.floats(0, 0.9999), st.floats(1e-4, 1), temperatures)
def test_density_falls_as_strength_rises(p, more, celsius):
    stronger = min(1.0, p + more)
    assert isotherm(celsius).density(stronger) < isotherm(celsius).density(p)


@settings(max_examples=300)
@given(fractions, temperatures)
def test_density_to_mass_fraction_and_back(p, celsius):
    at = isotherm(celsius)
    # A density carries 16 digits, which is all that can come back of a trace of alcohol.
    assert at.mass_fraction(at.density(p)) == pytest.approx(p, rel=1e-9, abs=2e-12)


@settings(max_examples=300)
@given(fractions, temperatures)
def test_volume_fraction_to_mass_fraction_and_back(v, celsius):
    at = isotherm(celsius)
    assert at.volume_fraction(at.mass_fraction_of_volume_fraction(v)) == pytest.approx(v, rel=1e-9)


@pytest.mark.parametrize("celsius", [-20.01, 40.01, 78.0])
def test_temperature_outside_the_formula_is_refused(celsius):
    with pytest.raises(OutOfRange, match="read again"):
        density_kg_per_m3(mass_fraction=0.5, celsius=celsius)


def test_hot_sample_is_told_to_cool():
    with pytest.raises(OutOfRange, match=r"cool the sample below 40 °C"):
        isotherm(63.0)


@pytest.mark.parametrize("p", [-1e-9, 1.0000001])
def test_mass_fraction_outside_is_refused(p):
    with pytest.raises(OutOfRange):
        density_kg_per_m3(mass_fraction=p, celsius=20)


@pytest.mark.parametrize("bad", [nan, inf, -inf])
def test_what_is_no_number_is_refused(bad):
    with pytest.raises(NotANumber):
        density_kg_per_m3(mass_fraction=bad, celsius=20)
    with pytest.raises(NotANumber):
        density_kg_per_m3(mass_fraction=0.4, celsius=bad)
    with pytest.raises(NotANumber):
        isotherm(20).mass_fraction(bad)
    with pytest.raises(NotANumber):
        isotherm(20).mass_fraction_of_volume_fraction(bad)


@pytest.mark.parametrize("density", [998.3, 789.1, 1000.0, 700.0])
def test_density_of_no_mixture_is_refused(density):
    with pytest.raises(NoSuchMixture, match="No mixture"):
        isotherm(20).mass_fraction(density)
