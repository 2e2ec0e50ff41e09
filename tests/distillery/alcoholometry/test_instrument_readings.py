"""From what an instrument showed to the true strength."""

from math import nan

import pytest
from hypothesis import given
from hypothesis import strategies as st
from published_tables import allowed, figures

from distillery.alcoholometry.errors import (
    AlcoholometryError,
    NoReferenceTemperature,
    NoSuchMixture,
    NotANumber,
    OutOfRange,
    OutsideCertificate,
    UnstatedBasis,
    WrongScale,
)
from distillery.alcoholometry.formula import isotherm
from distillery.alcoholometry.proof import true_us_proof
from distillery.alcoholometry.reading import (
    SIXTY_FAHRENHEIT,
    Alcoholometer,
    Certificate,
    DensityMeter,
    percent_of_density,
    shown_reading,
    true_percent,
    true_percent_of_reading,
)
from distillery.alcoholometry.strength import (
    VacuumDensity,
    air_density20_of_percent,
    density20_of_percent,
    mass_fraction_of_percent_vol,
    percent_vol_of_mass_fraction,
)


def test_glass_alcoholometer_to_the_last_digit():
    """Worked with the formula; guards against slips of coding."""
    for reading, celsius, percent in figures("computed_alcoholometer_reading_to_true_20C"):
        found = true_percent(reading_percent=reading, celsius=celsius)
        assert found == pytest.approx(percent, abs=allowed("computed_alcoholometer_reading_to_true_20C"))


def test_published_hydrometer_of_60_fahrenheit():
    """27 CFR 30.61 and 30.23."""
    for reading, fahrenheit, proof in figures("us_hydrometer_reading_to_true_proof"):
        found = true_us_proof(reading_proof=reading, fahrenheit=fahrenheit)
        assert found == pytest.approx(proof, abs=allowed("us_hydrometer_reading_to_true_proof"))


def test_historic_glass_alcoholometer():
    """Encyclopedia of Practical Receipts and Processes, table 55: an old table, independent of the formula."""
    name = "historic_glass_hydrometer_correction_60F"
    sixty = Alcoholometer(reference_celsius=SIXTY_FAHRENHEIT)
    for reading, fahrenheit, percent60 in figures(name):
        percent20 = true_percent(reading_percent=reading, celsius=(fahrenheit - 32) / 1.8, instrument=sixty)
        found = percent_vol_of_mass_fraction(
            mass_fraction_of_percent_vol(percent20), reference_celsius=SIXTY_FAHRENHEIT
        )
        assert found == pytest.approx(percent60, abs=allowed(name))


@given(st.floats(3, 96), st.floats(0, 35))
def test_what_is_shown_reads_back(percent, celsius):
    for instrument in (
        Alcoholometer(),
        Alcoholometer(reference_celsius=15.0),
        Alcoholometer(reference_celsius=SIXTY_FAHRENHEIT, scale="us_proof"),
        Alcoholometer(scale="percent_mass"),
        Alcoholometer(scale="density_vacuum"),
        Alcoholometer(scale="density_air", reference_celsius=15.0),
        Alcoholometer(scale="relative_density", reference_celsius=SIXTY_FAHRENHEIT),
        Alcoholometer(glass_per_celsius=10e-6),
    ):
        try:
            shown = shown_reading(percent20=percent, celsius=celsius, instrument=instrument)
        except NoSuchMixture:
            # Weak spirit when hot and strong spirit when cold stand off the scale.
            continue
        back = true_percent_of_reading(reading=shown, celsius=celsius, instrument=instrument)
        assert back == pytest.approx(percent, rel=1e-9)


@pytest.mark.parametrize("scale", ["percent_vol", "percent_mass", "us_proof", "density_air", "relative_density"])
def test_at_its_own_reference_the_scale_is_right(scale):
    instrument = Alcoholometer(reference_celsius=17.0, scale=scale)
    density = isotherm(17.0).density(mass_fraction_of_percent_vol(55.0))
    assert instrument.density_of_mark(instrument.mark_of_density(density)) == pytest.approx(density, abs=1e-9)
    shown = shown_reading(percent20=55.0, celsius=17.0, instrument=instrument)
    assert true_percent_of_reading(reading=shown, celsius=17.0, instrument=instrument) == pytest.approx(55.0, abs=1e-9)


def test_instrument_of_15_degrees_is_not_one_of_20():
    """Its mark stands for the density at 15 °C, and its % vol for volumes at 15 °C."""
    fifteen = Alcoholometer(reference_celsius=15.0)
    percent15 = percent_vol_of_mass_fraction(mass_fraction_of_percent_vol(63.5), reference_celsius=15.0)
    assert true_percent(reading_percent=percent15, celsius=15.0, instrument=fifteen) == pytest.approx(63.5, abs=1e-9)
    assert true_percent(reading_percent=63.5, celsius=15.0) - 63.5 > 1.6


def test_glass_term():
    """Worked with the formula: leaving the glass out costs 0.05 % vol at 15 °C and about 0.15 at 5 °C."""
    for celsius, cost in ((15.0, 0.05), (5.0, 0.15)):
        with_glass = true_percent(reading_percent=63.5, celsius=celsius)
        without = true_percent(reading_percent=63.5, celsius=celsius, instrument=Alcoholometer(glass_per_celsius=0.0))
        assert abs(with_glass - without) == pytest.approx(cost, abs=0.01)


def test_density_meter_in_air_and_in_vacuum():
    for percent in (8.0, 40.0, 63.5, 96.0):
        vacuum = DensityMeter(basis="vacuum").density(density20_of_percent(percent).kg_per_m3)
        air = DensityMeter(basis="air").density(air_density20_of_percent(percent).kg_per_m3)
        assert percent_of_density(density=vacuum, celsius=20.0) == pytest.approx(percent, abs=1e-9)
        assert percent_of_density(density=air, celsius=20.0) == pytest.approx(percent, abs=1e-8)


def test_density_meter_away_from_20_has_no_glass_term():
    density = VacuumDensity(isotherm(12.0).density(mass_fraction_of_percent_vol(63.5)))
    assert percent_of_density(density=density, celsius=12.0) == pytest.approx(63.5, abs=1e-9)


@pytest.mark.parametrize("basis", [None, "", "unknown"])
def test_density_meter_must_say_its_basis(basis):
    with pytest.raises(UnstatedBasis, match="in air or in vacuum"):
        DensityMeter(basis=basis)


def test_instrument_without_reference_temperature_is_refused():
    with pytest.raises(NoReferenceTemperature, match="reference temperature"):
        Alcoholometer(reference_celsius=None)


def test_instrument_of_another_scale_is_not_read_as_percent():
    with pytest.raises(WrongScale):
        true_percent(reading_percent=80, celsius=20, instrument=Alcoholometer(scale="us_proof"))
    with pytest.raises(WrongScale):
        Alcoholometer(scale="cartier")


def test_glass_that_is_no_glass_is_refused():
    with pytest.raises(OutOfRange):
        Alcoholometer(glass_per_celsius=0.025)
    with pytest.raises(AlcoholometryError):
        Alcoholometer(glass_per_celsius=-25e-6)


def test_certificate_goes_first_on_reading_and_thermometer():
    """27 CFR 30.23: instruments are corrected before the table is entered."""
    certificate = Certificate(((50.0, 0.0), (60.0, -0.2), (70.0, 0.1)))
    assert certificate.corrected(55.0) == pytest.approx(54.9)
    assert certificate.corrected(65.0) == pytest.approx(64.95)
    assert certificate.corrected(70.0) == pytest.approx(70.1)
    thermometer = Certificate(((10.0, 0.3), (30.0, 0.3)))
    found = true_percent(
        reading_percent=65.0,
        celsius=14.0,
        instrument=Alcoholometer(certificate=certificate),
        thermometer=thermometer,
    )
    assert found == true_percent(reading_percent=64.95, celsius=14.3)


def test_certificate_says_nothing_outside_its_points():
    certificate = Certificate(((50.0, 0.1), (60.0, 0.1)))
    for reading in (49.9, 60.1):
        with pytest.raises(OutsideCertificate, match="certificate covers"):
            certificate.corrected(reading)
    with pytest.raises(OutsideCertificate):
        Certificate(((60.0, 0.1), (50.0, 0.1)))
    with pytest.raises(NotANumber):
        Certificate(((60.0, nan),))
    assert Certificate(((60.0, 0.1),)).corrected(60.0) == pytest.approx(60.1)


@pytest.mark.parametrize(("reading", "celsius"), [(0.2, 30.0), (99.9, 5.0)])
def test_pair_that_no_spirit_gives_is_refused(reading, celsius):
    """Below 0 or above 100 % vol: usually a wrong temperature or a wrong instrument."""
    with pytest.raises(NoSuchMixture, match="check the reading, the temperature"):
        true_percent(reading_percent=reading, celsius=celsius)


@pytest.mark.parametrize("reading", [-0.1, 100.1])
def test_reading_off_the_scale_is_refused(reading):
    with pytest.raises(OutOfRange):
        true_percent(reading_percent=reading, celsius=20)


def test_reading_that_is_no_number_is_refused():
    with pytest.raises(NotANumber):
        true_percent(reading_percent=nan, celsius=20)
    with pytest.raises(NotANumber):
        true_percent(reading_percent=40, celsius=nan)
