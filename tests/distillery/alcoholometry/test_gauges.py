"""Gauges: content, chain, and the uncertainty against a published method, another library and random draws."""

from dataclasses import replace
from datetime import date
from math import nan, sqrt

import pytest

from distillery.alcoholometry.errors import (
    ImpossibleGravities,
    NegativeQuantity,
    NoSuchMixture,
    NotANumber,
    OutOfRange,
    OutsideTable,
)
from distillery.alcoholometry.gauging.gauge import (
    Corrections,
    GaugeChain,
    InstrumentNames,
    InstrumentUncertainty,
    gauge_by_dip,
    gauge_by_dip_chain,
    gauge_by_volume_chain,
    gauge_by_weight,
    gauge_by_weight_chain,
    gauge_wash_by_dip,
    gauge_wash_by_dip_chain,
)
from distillery.alcoholometry.gravity import hmrc_gravity_table
from distillery.alcoholometry.obscuration import Obscuration
from distillery.alcoholometry.quantity import NOTHING
from distillery.alcoholometry.reading import Alcoholometer, Certificate, shown_reading, true_percent
from distillery.alcoholometry.uncertainty import combined, in_quadrature, rectangular
from distillery.alcoholometry.volume import Shell, litres_at_20

TABLE = hmrc_gravity_table()
TANK = {"litres_at_temperature": 2480.0, "litres_per_mm": 1.0, "celsius": 14.0, "hydrometer_percent": 61.0}
# 0.3 % of the volume; a thermometer of 0.2 °C and 0.3 °C of gradient; a scale of 0.1 % vol read to 0.05.
TANK_LIMITS = InstrumentUncertainty(
    dip_mm=rectangular(0.003 * 2480),
    celsius=in_quadrature(rectangular(0.2), rectangular(0.3)),
    percent=in_quadrature(rectangular(0.10), rectangular(0.05)),
    kilograms=rectangular(1.0),
)
WASH = {"litres_at_temperature": 12000.0, "litres_per_mm": 3.2, "celsius": 30.0, "table": TABLE}
GRAVITIES = {"original_gravity": 1.0603, "present_gravity": 0.9982}


def test_two_effects_of_one_thermometer_have_one_row():
    """Strength and volume both fall as the thermometer reads high: the parts add, and are not squared apart."""
    chain = gauge_by_dip_chain(**TANK, u=TANK_LIMITS)
    (row,) = (row for row in chain.contributions if row.instrument == "thermometer")
    by_strength, by_volume = -1.757, -0.288
    assert row.contribution_lpa == pytest.approx(by_strength + by_volume, abs=0.01)
    assert abs(row.contribution_lpa) > sqrt(by_strength**2 + by_volume**2) + 0.2


def test_gauge_content_hangs_together():
    found = gauge_by_dip(**TANK)
    assert found.pure_ul / 1e6 == pytest.approx(found.litres20 * found.percent20 / 100, abs=1e-6)
    assert found.mass_g / 1000 == pytest.approx(2249.376, abs=0.001)


def test_wash_by_gravities():
    """Strength from the drop 62.1 × 0.132; mass is present gravity × water at 20 °C (Tanaka: 998.207)."""
    found = gauge_wash_by_dip(**WASH, **GRAVITIES)
    assert found.percent20 == pytest.approx(62.1 * 0.132)
    assert found.litres20 == pytest.approx(litres_at_20(litres=12000, celsius=30, percent20=62.1 * 0.132))
    assert found.mass_g / 1000 == pytest.approx(found.litres20 * 0.9982 * 0.998207, rel=1e-6)
    assert found.lpa == pytest.approx(found.litres20 * 0.0819720, rel=1e-9)


def test_both_gravities_enter_with_opposite_sign():
    rows = {row.reading: row for row in gauge_wash_by_dip_chain(**WASH, **GRAVITIES).contributions}
    original, present = rows["original gravity"], rows["present gravity"]
    assert original.sensitivity_percent == pytest.approx(132.0)
    assert present.sensitivity_percent == pytest.approx(-132.0)
    assert original.contribution_lpa == pytest.approx(12000 * 0.997 * 1.32 * 0.0002, rel=0.01)


def test_one_saccharometer_off_hardly_shows_in_the_wash():
    """An error that lasts from the first reading to the second cancels in the drop."""
    chain = gauge_wash_by_dip_chain(**WASH, **GRAVITIES)
    lasting = combined(chain.components(gauge="1", lasting_share={"saccharometer": 1.0}))
    assert lasting < chain.quantity.uncertainty_ul
    assert combined(chain.components(gauge="1")) == pytest.approx(chain.quantity.uncertainty_ul)


def test_empty_vessels():
    heel = 40_000.0
    by_dip = gauge_by_dip(
        litres_at_temperature=0, litres_per_mm=2, celsius=17.7, hydrometer_percent=None, heel_uncertainty_ul=heel
    )
    by_weight = gauge_by_weight(
        gross_kg=49.7, tare_kg=49.7, celsius=15, hydrometer_percent=None, heel_uncertainty_ul=heel
    )
    by_gravity = gauge_wash_by_dip(**{**WASH, "litres_at_temperature": 0.0}, **GRAVITIES, heel_uncertainty_ul=heel)
    assert by_dip == by_weight == by_gravity == replace(NOTHING, uncertainty_ul=heel)
    assert gauge_by_dip(**{**TANK, "litres_at_temperature": 0}) == NOTHING


def test_heel_enters_the_covariance_as_its_own_source():
    chain = gauge_by_dip_chain(**{**TANK, "litres_at_temperature": 0}, heel_uncertainty_ul=5e4)
    assert combined(chain.components(gauge="1")) == 5e4


def test_a_trace_in_the_vessel_and_the_ends_of_the_range_still_gauge():
    """At an edge the sensitivity is taken from the side where the formula holds."""
    trace = gauge_by_dip(litres_at_temperature=1e-4, litres_per_mm=2, celsius=20, hydrometer_percent=40)
    assert trace.uncertainty_ul > 0
    for celsius, reading in ((40.0, 50.0), (-20.0, 50.0), (20.0, 0.0), (20.0, 100.0)):
        found = gauge_by_dip(**{**TANK, "celsius": celsius, "hydrometer_percent": reading})
        assert found.uncertainty_ul > 0


def test_chain_tells_each_step_with_formula_and_source():
    chain = gauge_by_dip_chain(
        **TANK, dip_mm=1243.0, instruments=InstrumentNames(dip="D1", thermometer="T1", alcoholometer="A1")
    )
    assert [step.name for step in chain.steps] == [
        "True strength",
        "Factor to 20 °C",
        "Bulk at 20 °C",
        "Pure alcohol",
    ]
    assert all(step.formula and step.source for step in chain.steps)
    assert all(row.formula and row.source for row in chain.contributions)
    assert [row.instrument for row in chain.contributions] == ["D1", "T1", "A1"]
    assert chain.contributions[0].value == 1243.0
    assert chain.steps[-1].value == pytest.approx(chain.quantity.lpa, abs=1e-6)
    assert chain.quantity == gauge_by_dip(**TANK)


@pytest.mark.parametrize(
    "chain",
    [
        gauge_by_weight_chain(gross_kg=286.8, tare_kg=62.8, celsius=15.3, hydrometer_percent=61.9),
        gauge_wash_by_dip_chain(**WASH, **GRAVITIES),
        gauge_by_volume_chain(litres=6430, percent20=0.09, u_litres=40, u_percent=0.02),
    ],
    ids=["weight", "wash", "volume"],
)
def test_every_chain_ends_in_its_alcohol(chain: GaugeChain):
    assert chain.steps[-1].name == "Pure alcohol"
    assert chain.steps[-1].value == pytest.approx(chain.quantity.lpa, abs=1e-6)
    spread = sqrt(sum(row.contribution_lpa**2 for row in chain.contributions))
    assert chain.quantity.uncertainty_ul / 1e6 == pytest.approx(spread)
    assert all(step.source for step in chain.steps)


def test_vessel_calibration_is_a_source_of_its_own():
    u = replace(TANK_LIMITS, calibration_share=0.002)
    chain = gauge_by_dip_chain(**TANK, u=u)
    row = chain.contributions[-1]
    assert row.instrument == "vessel calibration"
    assert row.contribution_lpa == pytest.approx(0.002 * chain.quantity.lpa, rel=1e-6)
    assert chain.quantity.uncertainty_ul / 1e6 == pytest.approx(sqrt(3.7606**2 + 3.1443**2), abs=0.001)


def test_thermometer_certificate_and_shell_come_first():
    corrections = Corrections(thermometer=Certificate(((0.0, 0.2), (40.0, 0.2))), shell=Shell(calibration_celsius=20.0))
    found = gauge_by_dip(**{**TANK, "celsius": 13.8}, corrections=corrections)
    plain = gauge_by_dip(**TANK)
    assert found.percent20 == pytest.approx(plain.percent20, abs=1e-9)
    assert found.litres20 == pytest.approx(plain.litres20 * (1 - 6 * 5e-5), rel=1e-9)
    chain = gauge_by_dip_chain(**{**TANK, "celsius": 13.8}, corrections=corrections)
    assert [step.name for step in chain.steps[:3]] == [
        "Temperature, corrected",
        "True strength",
        "Litres in the warm shell",
    ]
    assert chain.steps[0].value == pytest.approx(14.0)
    assert chain.steps[2].value == pytest.approx(2480 * (1 - 6 * 5e-5))
    wash = gauge_wash_by_dip(**WASH, **GRAVITIES, corrections=Corrections(shell=Shell(calibration_celsius=20.0)))
    assert wash.litres20 == pytest.approx(gauge_wash_by_dip(**WASH, **GRAVITIES).litres20 * 1.0005, rel=1e-9)


def test_obscured_spirit_keeps_its_weight_and_shows_its_alcohol():
    hidden = Obscuration(0.8, determined_on=date(2027, 3, 1), source="sample distilled", standard_uncertainty=0.05)
    chain = gauge_by_dip_chain(**TANK, corrections=Corrections(obscuration=hidden))
    plain = gauge_by_dip(**TANK)
    assert chain.quantity.percent20 == pytest.approx(plain.percent20 + 0.8)
    assert chain.quantity.mass_g == plain.mass_g
    assert chain.quantity.litres20 == plain.litres20
    assert [step.name for step in chain.steps[:3]] == ["Apparent strength", "Obscuration", "True strength"]
    (row,) = (row for row in chain.contributions if row.reading == "obscuration")
    assert row.contribution_lpa == pytest.approx(plain.litres20 * 0.0005, rel=1e-4)
    weighed = gauge_by_weight(
        gross_kg=286.8,
        tare_kg=62.8,
        celsius=15.3,
        hydrometer_percent=61.9,
        corrections=Corrections(obscuration=hidden),
    )
    assert weighed.percent20 == pytest.approx(true_percent(reading_percent=61.9, celsius=15.3) + 0.8)


def test_gauge_with_an_instrument_of_60_fahrenheit():
    instrument = Alcoholometer(reference_celsius=140 / 9, scale="us_proof")
    shown = shown_reading(percent20=63.057, celsius=14.0, instrument=instrument)
    found = gauge_by_dip(**{**TANK, "hydrometer_percent": shown}, alcoholometer=instrument)
    assert found.percent20 == pytest.approx(63.057, abs=1e-9)


@pytest.mark.parametrize(
    ("changed", "refusal"),
    [
        ({"hydrometer_percent": None}, OutOfRange),
        ({"hydrometer_percent": nan}, NotANumber),
        ({"celsius": nan}, NotANumber),
        ({"celsius": 40.1}, OutOfRange),
        ({"litres_at_temperature": -1.0}, NegativeQuantity),
        ({"litres_per_mm": -1.0}, NegativeQuantity),
        ({"hydrometer_percent": 0.0, "celsius": 30.0}, NoSuchMixture),
        ({"heel_uncertainty_ul": -1.0, "litres_at_temperature": 0.0}, NegativeQuantity),
    ],
)
def test_dip_refusals(changed, refusal):
    with pytest.raises(refusal):
        gauge_by_dip(**{**TANK, **changed})


def test_other_refusals():
    with pytest.raises(NegativeQuantity, match="below the tare"):
        gauge_by_weight(gross_kg=49.6, tare_kg=49.7, celsius=15, hydrometer_percent=61)
    with pytest.raises(NegativeQuantity):
        InstrumentUncertainty(celsius=-0.1)
    with pytest.raises(ImpossibleGravities):
        gauge_wash_by_dip(**WASH, original_gravity=0.99, present_gravity=1.05)
    with pytest.raises(OutsideTable):
        gauge_wash_by_dip(**WASH, original_gravity=1.12, present_gravity=0.99)
    with pytest.raises(NegativeQuantity):
        gauge_by_volume_chain(litres=-1, percent20=1, u_litres=0, u_percent=0)
    with pytest.raises(OutOfRange):
        gauge_by_volume_chain(litres=1, percent20=101, u_litres=0, u_percent=0)
