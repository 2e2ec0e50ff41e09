"""A vessel of water, or of tails too weak to read: nothing within the instrument's error, with its uncertainty."""

from datetime import date
from itertools import pairwise

import pytest

from distillery.alcoholometry.errors import NoSuchMixture
from distillery.alcoholometry.gauging.chain import Corrections
from distillery.alcoholometry.gauging.gauge import gauge_by_dip_chain, gauge_by_weight_chain
from distillery.alcoholometry.obscuration import Obscuration
from distillery.alcoholometry.reading import Alcoholometer, DensityMeter

# Density of pure water, kg/m³: Tanaka et al., Metrologia 38 (2001) 301, as printed in the tables of the formula.
WATER = {20.0: 998.207, 25.0: 997.047, 30.0: 995.649}
GLASS = 25e-6
TANK = {"litres_at_temperature": 2480.0, "litres_per_mm": 1.0}


def shown_by_water(celsius: float) -> float:
    """% vol on a 20 °C glass instrument floating in water: near water 1 % vol is 1.48 kg/m³ lighter at 20 °C
    (OIML R 22:1975, table of densities at 20 °C: 998.20 at 0, 996.70 at 1 % vol).
    """
    mark = WATER[celsius] / (1 - GLASS * (celsius - 20.0))
    return (WATER[20.0] - mark) / (998.20 - 996.70)


@pytest.mark.parametrize("celsius", [25.0, 30.0])
def test_what_water_shows_is_nothing(celsius):
    chain = gauge_by_dip_chain(**TANK, celsius=celsius, hydrometer_percent=shown_by_water(celsius))
    assert chain.quantity.percent20 == pytest.approx(0.0, abs=0.05)
    assert chain.quantity.uncertainty_ul > 0


@pytest.mark.parametrize(("reading", "celsius"), [(0.01, 20.1), (0.4, 25.0), (1.5, 30.0), (0.0, 22.0), (0.0, 25.0)])
def test_short_of_water_is_nothing_and_says_so(reading, celsius):
    chain = gauge_by_dip_chain(**TANK, celsius=celsius, hydrometer_percent=reading)
    assert chain.quantity.pure_ul == 0
    assert chain.quantity.percent20 == 0.0
    assert chain.quantity.mass_g == pytest.approx(2480.0 * 996.5, rel=3e-3)
    assert any("nothing within the instrument's error" in step.formula for step in chain.steps)


def test_the_distance_to_water_is_in_the_uncertainty():
    """0.4 at 25 °C is 0.29 % vol short of water's 0.69: with the instrument's own, at least that of 2480 litres."""
    chain = gauge_by_dip_chain(**TANK, celsius=25.0, hydrometer_percent=0.4)
    short = shown_by_water(25.0) - 0.4
    assert chain.quantity.uncertainty_ul / 1e6 > 0.9 * short * 2480.0 / 100
    (row,) = (one for one in chain.contributions if one.reading.startswith("short of"))
    assert row.standard_uncertainty == pytest.approx(short, abs=0.03)
    (hydrometer,) = (one for one in chain.contributions if one.reading == "hydrometer")
    assert hydrometer.sensitivity_lpa == pytest.approx(24.8, rel=0.05)


def test_the_content_rises_without_a_step_from_nothing():
    readings = [1.50 + 0.01 * n for n in range(12)]
    found = [gauge_by_dip_chain(**TANK, celsius=30.0, hydrometer_percent=one).quantity.lpa for one in readings]
    assert found == sorted(found)
    assert max(high - low for low, high in pairwise(found)) < 0.3


def test_solids_hide_what_the_reading_does_not_show():
    """Solids make the liquid heavier than water; what was found by distilling is what there is, less the distance."""
    hidden = Obscuration(1.0, date(2027, 3, 1), "distilled sample", 0.05)
    chain = gauge_by_dip_chain(
        **TANK, celsius=25.0, hydrometer_percent=0.4, corrections=Corrections(obscuration=hidden)
    )
    assert chain.quantity.percent20 == pytest.approx(1.0 - (shown_by_water(25.0) - 0.4), abs=0.04)


def test_a_weighed_tank_of_water():
    chain = gauge_by_weight_chain(gross_kg=1030.0, tare_kg=30.0, celsius=25.0, hydrometer_percent=0.0)
    assert chain.quantity.pure_ul == 0
    assert chain.quantity.litres20 == pytest.approx(1000.0 * 1.00106 / 0.99820, abs=0.1)


def test_a_meter_a_little_heavier_than_water():
    meter = DensityMeter("vacuum")
    near = gauge_by_dip_chain(**TANK, celsius=18.0, hydrometer_percent=998.3, alcoholometer=meter)
    assert near.quantity.pure_ul == 0
    assert near.quantity.uncertainty_ul > 0


@pytest.mark.parametrize(
    ("instrument", "reading"),
    [
        (DensityMeter("vacuum"), 999.3),
        (Alcoholometer(scale="density_vacuum"), 1000.0),
        (Alcoholometer(scale="relative_density"), 1.002),
    ],
)
def test_far_heavier_than_water_is_still_refused(instrument, reading):
    with pytest.raises(NoSuchMixture):
        gauge_by_dip_chain(**TANK, celsius=20.0, hydrometer_percent=reading, alcoholometer=instrument)


def test_a_refusal_says_what_water_shows():
    with pytest.raises(NoSuchMixture, match=r"water itself shows 1\.5\d* there"):
        gauge_by_dip_chain(**TANK, celsius=30.0, hydrometer_percent=0.0)
