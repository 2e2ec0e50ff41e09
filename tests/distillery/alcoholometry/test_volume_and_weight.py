"""Litres brought to 20 °C, and litres and alcohol from weight."""

from math import nan

import pytest
from hypothesis import given
from hypothesis import strategies as st
from published_tables import allowed, figures, rows

from distillery.alcoholometry.errors import NegativeQuantity, NoReferenceTemperature, NotANumber, OutOfRange
from distillery.alcoholometry.volume import (
    Shell,
    factor_to_20,
    litres_at_20,
    litres_at_celsius,
    litres_in_shell,
)
from distillery.alcoholometry.weighing import (
    kilograms_in_air,
    litres20_of_true_kilograms,
    litres20_of_weighed_kg,
    lpa_of_true_kilograms,
    lpa_of_weighed_kg,
    true_kilograms,
)

strengths = st.floats(0, 100)
temperatures = st.floats(0, 40)


def test_factor_to_the_last_digit():
    """Worked with the formula; guards against slips of coding."""
    for percent, celsius, factor in figures("computed_volume_factor_to_20C"):
        found = factor_to_20(percent20=percent, celsius=celsius)
        assert found == pytest.approx(factor, abs=allowed("computed_volume_factor_to_20C"))


def test_published_products_of_litres_and_strength():
    """HMRC HMEXSH5030; New Zealand Customs."""
    for litres, percent, lpa in figures("litres_of_alcohol_worked"):
        found = litres_at_20(litres=litres, celsius=20, percent20=percent) * percent / 100
        assert found == pytest.approx(lpa, abs=allowed("litres_of_alcohol_worked"))


def test_a_thousand_litres_at_ten_degrees():
    """Worked with the formula: 1000 L at 10 °C and 63.5 % is 1008.9 L at 20 °C, 5.6 LPA more."""
    litres20 = litres_at_20(litres=1000, celsius=10, percent20=63.5)
    assert litres20 == pytest.approx(1008.89, abs=0.006)
    assert (litres20 - 1000) * 0.635 == pytest.approx(5.645, abs=0.006)


@given(st.floats(0.1, 50_000), temperatures, strengths)
def test_litres_to_20_and_back(litres, celsius, percent):
    litres20 = litres_at_20(litres=litres, celsius=celsius, percent20=percent)
    assert litres_at_celsius(litres20=litres20, celsius=celsius, percent20=percent) == pytest.approx(litres, rel=1e-12)


def test_shell_grows_only_from_its_calibration_temperature():
    """Steel by volume about 5e-5 per °C (from memory): 0.05 % for 10 °C."""
    shell = Shell(calibration_celsius=15.0)
    assert litres_in_shell(litres=2000, celsius=25, shell=shell) == pytest.approx(2001.0)
    assert litres_in_shell(litres=2000, celsius=15, shell=shell) == 2000
    with pytest.raises(NoReferenceTemperature, match="calibration"):
        Shell(calibration_celsius=None)


def test_alcohol_per_kilogram_to_the_last_digit():
    """Worked with the formula and air of 1.2 kg/m³; guards against slips of coding."""
    for row in figures("computed_state_by_abv_20C"):
        percent, lpa_true, lpa_weighed = row[0], row[4], row[5]
        assert lpa_of_true_kilograms(true_kilograms=1, percent20=percent) == pytest.approx(lpa_true, abs=6e-6)
        assert lpa_of_weighed_kg(kilograms_in_air=1, percent20=percent) == pytest.approx(lpa_weighed, abs=6e-6)


def test_cask_by_weight():
    """Worked with the formula: 236.4 kg gross, 52.2 kg tare at 63.5 % vol."""
    litres, lpa = (next(row for row in rows("process_checks") if row["id"] == wanted) for wanted in ("P076", "P077"))
    found = litres20_of_weighed_kg(kilograms_in_air=236.4 - 52.2, percent20=63.5)
    assert found == pytest.approx(float(litres["expected"]), abs=float(litres["tolerance"]))
    found = lpa_of_weighed_kg(kilograms_in_air=236.4 - 52.2, percent20=63.5)
    assert found == pytest.approx(float(lpa["expected"]), abs=float(lpa["tolerance"]))


def test_air_left_out_of_a_cask_fill():
    """Worked with the formula: a 200 kg fill at 63.5 % is 141.10 LPA; taken as true mass it would be 140.93."""
    assert lpa_of_weighed_kg(kilograms_in_air=200, percent20=63.5) == pytest.approx(141.10, abs=0.005)
    assert lpa_of_true_kilograms(true_kilograms=200, percent20=63.5) == pytest.approx(140.93, abs=0.005)


@given(st.floats(0.1, 5000), strengths, temperatures)
def test_weight_in_air_to_mass_and_back(kilograms, percent, celsius):
    mass = true_kilograms(kilograms_in_air=kilograms, percent20=percent, celsius=celsius)
    assert mass > kilograms
    shown = kilograms_in_air(true_kilograms=mass, percent20=percent, celsius=celsius)
    assert shown == pytest.approx(kilograms, rel=1e-12)


@given(st.floats(0.1, 5000), strengths)
def test_alcohol_is_litres_times_strength(kilograms, percent):
    litres20 = litres20_of_true_kilograms(true_kilograms=kilograms, percent20=percent)
    lpa = lpa_of_true_kilograms(true_kilograms=kilograms, percent20=percent)
    assert lpa == pytest.approx(litres20 * percent / 100, rel=1e-9)


def test_refusals():
    with pytest.raises(NegativeQuantity):
        litres_at_20(litres=-1, celsius=20, percent20=40)
    with pytest.raises(NotANumber):
        litres_at_20(litres=nan, celsius=20, percent20=40)
    with pytest.raises(OutOfRange):
        factor_to_20(percent20=40, celsius=41)
    with pytest.raises(OutOfRange):
        factor_to_20(percent20=100.5, celsius=20)
    with pytest.raises(NegativeQuantity):
        true_kilograms(kilograms_in_air=-0.1, percent20=40)
    with pytest.raises(NotANumber):
        Shell(calibration_celsius=nan)
