"""The uncertainty of a gauge against a worked example, another library and random draws on another calculation."""

from decimal import Decimal
from math import sqrt
from random import Random

import numpy as np
import pytest
from uncertainties import ufloat, wrap

from distillery.alcoholometry.formula import A, B, C
from distillery.alcoholometry.gauging.gauge import (
    InstrumentUncertainty,
    gauge_by_dip,
    gauge_by_dip_chain,
    gauge_by_weight,
    gauge_by_weight_chain,
    gauge_wash_by_dip_chain,
)
from distillery.alcoholometry.gravity import hmrc_gravity_table
from distillery.alcoholometry.reading import true_percent
from distillery.alcoholometry.uncertainty import Component, combined, covariance, in_quadrature, rectangular, weighted
from distillery.alcoholometry.volume import litres_at_20
from distillery.alcoholometry.weighing import lpa_of_weighed_kg

TABLE = hmrc_gravity_table()
TANK = {"litres_at_temperature": 2480.0, "litres_per_mm": 1.0, "celsius": 14.0, "hydrometer_percent": 61.0}
# 0.3 % of the volume; a thermometer of 0.2 °C and 0.3 °C of gradient; a scale of 0.1 % vol read to 0.05.
TANK_LIMITS = InstrumentUncertainty(
    dip_mm=rectangular(0.003 * 2480),
    celsius=in_quadrature(rectangular(0.2), rectangular(0.3)),
    percent=in_quadrature(rectangular(0.10), rectangular(0.05)),
    kilograms=rectangular(1.0),
)


def test_worked_tank_by_dip():
    """Worked by hand from JCGM 100:2008, 5.1: 1572.17 LPA, u = 3.76 with each line of its table."""
    chain = gauge_by_dip_chain(**TANK, u=TANK_LIMITS)
    assert chain.quantity.percent20 == pytest.approx(63.057, abs=6e-4)
    assert chain.quantity.litres20 == pytest.approx(2493.27, abs=6e-3)
    assert chain.quantity.lpa == pytest.approx(1572.17, abs=6e-3)
    assert chain.quantity.uncertainty_ul / 1e6 == pytest.approx(3.76, abs=0.006)
    lines = [(row.reading, row.sensitivity_lpa, row.contribution_lpa) for row in chain.contributions]
    expected = [("dip", 0.63394, 2.723), ("temperature", -9.843, -2.049), ("hydrometer", 24.649, 1.591)]
    for (name, slope, part), (expected_name, expected_slope, expected_part) in zip(lines, expected, strict=True):
        assert name == expected_name
        assert slope == pytest.approx(expected_slope, rel=1e-4)
        assert part == pytest.approx(expected_part, abs=0.002)


def test_the_same_tank_weighed():
    """Worked by hand from the same inputs with two weighings of ±1 kg each: u = 2.81, less than by dip."""
    gross = {"gross_kg": 2346.7, "tare_kg": 100.0, "celsius": 14.0, "hydrometer_percent": 61.0}
    found = gauge_by_weight(**gross, u=TANK_LIMITS)
    assert found.uncertainty_ul / 1e6 == pytest.approx(2.81, abs=0.006)
    assert found.lpa == pytest.approx(1572.17, abs=0.05)


def test_uncertainties_package_agrees_by_dip():
    """The package uncertainties (BSD licence) differentiates by itself; within 1 % of u."""

    def lpa(litres: float, celsius: float, reading: float) -> float:
        percent = true_percent(reading_percent=reading, celsius=celsius)
        return litres_at_20(litres=litres, celsius=celsius, percent20=percent) * percent / 100

    u = TANK_LIMITS
    theirs = wrap(lpa)(ufloat(2480.0, u.dip_mm), ufloat(14.0, u.celsius), ufloat(61.0, u.percent))
    assert gauge_by_dip(**TANK, u=u).uncertainty_ul / 1e6 == pytest.approx(theirs.std_dev, rel=0.01)


def test_uncertainties_package_agrees_by_weight():
    def lpa(gross: float, tare: float, celsius: float, reading: float) -> float:
        percent = true_percent(reading_percent=reading, celsius=celsius)
        return lpa_of_weighed_kg(kilograms_in_air=gross - tare, percent20=percent, celsius=celsius)

    theirs = wrap(lpa)(ufloat(228.0, 0.1), ufloat(49.7, 0.1), ufloat(13.9, 0.08), ufloat(61.3, 0.06))
    ours = gauge_by_weight(gross_kg=228.0, tare_kg=49.7, celsius=13.9, hydrometer_percent=61.3)
    assert ours.lpa == pytest.approx(theirs.nominal_value, abs=1e-6)
    assert ours.uncertainty_ul / 1e6 == pytest.approx(theirs.std_dev, rel=0.01)


def test_uncertainties_package_agrees_on_two_gauges_with_one_thermometer():
    """The difference of two gauges whose temperature error is the same one."""

    def lpa(litres: float, celsius: float, reading: float) -> float:
        percent = true_percent(reading_percent=reading, celsius=celsius)
        return litres_at_20(litres=litres, celsius=celsius, percent20=percent) * percent / 100

    off = ufloat(0.0, 0.3)
    before = wrap(lpa)(ufloat(2480.0, 0.85), 14.0 + off, ufloat(61.0, 0.06))
    after = wrap(lpa)(ufloat(1900.0, 0.85), 16.0 + off, ufloat(61.9, 0.06))
    u = InstrumentUncertainty(celsius=0.3)
    chains = (
        gauge_by_dip_chain(**TANK, u=u),
        gauge_by_dip_chain(litres_at_temperature=1900.0, litres_per_mm=1.0, celsius=16.0, hydrometer_percent=61.9, u=u),
    )
    first, second = (
        chain.components(gauge=str(number), lasting_share={"thermometer": 1.0}) for number, chain in enumerate(chains)
    )
    difference = combined(weighted([(1.0, first), (-1.0, second)]))
    assert difference / 1e6 == pytest.approx((before - after).std_dev, rel=0.01)
    apart = sqrt(sum(chain.quantity.uncertainty_ul**2 for chain in chains))
    assert difference < 0.7 * apart
    assert covariance(first, second) > 0


# An independent calculation on arrays, written from the printed formula, for the random draws.


Array = np.ndarray


def _powers_of_p(celsius: Array | float) -> list[Array | float]:
    """Coefficients of the powers of the mass fraction at each temperature."""
    d = celsius - 20.0
    families = [(A[0], *B)] + [(A[k], *(family[k - 1] for family in C if len(family) >= k)) for k in range(1, len(A))]
    powers = []
    for family in families:
        total = family[-1] + 0.0 * d
        for c in reversed(family[:-1]):
            total = total * d + c
        powers.append(total)
    return powers


def _density(powers: list[Array | float], p: Array) -> tuple[Array, Array]:
    value, slope = np.zeros_like(p), np.zeros_like(p)
    for c in reversed(powers):
        slope = slope * p + value
        value = value * p + c
    return value, slope


AT_20 = _powers_of_p(20.0)
ETHANOL_20 = sum(AT_20)


def _fraction_of_percent(percent: Array) -> Array:
    p = percent * 0.009
    for _ in range(6):
        value, slope = _density(AT_20, p)
        p = p - (p * value - percent / 100 * ETHANOL_20) / (value + p * slope)
    return p


def _liquid(reading: Array, celsius: Array) -> tuple[Array, Array]:
    """Mass fraction and density at t of the liquid."""
    mark = _fraction_of_percent(reading)
    shown = _density(AT_20, mark)[0] * (1 - 25e-6 * (celsius - 20.0))
    powers, p = _powers_of_p(celsius), mark
    for _ in range(6):
        value, slope = _density(powers, p)
        p = p - (value - shown) / slope
    return p, _density(powers, p)[0]


DRAWS = 10_000


def _drawn_lpa(kind: str, means: list[float], spreads: list[float], draw: np.random.Generator) -> np.ndarray:
    columns = [draw.normal(mean, spread, DRAWS) for mean, spread in zip(means, spreads, strict=True)]
    if kind == "weight":
        gross, tare, celsius, reading = columns
        p, at_t = _liquid(reading, celsius)
        mass = (gross - tare) * (1 - 1.2 / 8000) / (1 - 1.2 / at_t)
        return mass * p / ETHANOL_20 * 1000
    if kind == "dip":
        litres, celsius, reading = columns
        p, at_t = _liquid(reading, celsius)
        return litres * at_t * p / ETHANOL_20
    litres, celsius, original, present = columns
    # Each draw has the factor of its own drop, so a drop near the edge of a band takes the table's step along.
    drops = (original - present) * 1000
    edges = [float(band.to_degrees) + 0.05 for band in TABLE.bands[:-1]]
    percent = drops * np.array([float(band.factor) for band in TABLE.bands])[np.searchsorted(edges, drops)]
    p = _fraction_of_percent(percent)
    ratio = _density(_powers_of_p(celsius), p)[0] / _density(AT_20, p)[0]
    return litres * ratio * percent / 100


def test_propagation_agrees_with_random_draws_on_200_gauges():
    """JCGM 101:2008, propagation of distributions: 10 000 draws a gauge on an independent calculation, within 3 %."""
    choose, draw = Random(1), np.random.default_rng(1)
    worst = 0.0
    for number in range(200):
        kind = ("dip", "weight", "wash")[number % 3]
        u = InstrumentUncertainty(
            dip_mm=choose.uniform(0.3, 2),
            celsius=choose.uniform(0.02, 0.4),
            percent=choose.uniform(0.02, 0.3),
            gravity=choose.uniform(1e-4, 5e-4),
            kilograms=choose.uniform(0.02, 1),
        )
        celsius, reading = choose.uniform(6, 26), choose.uniform(12, 88)
        litres, slope = choose.uniform(300, 20_000), choose.uniform(0.3, 6)
        if kind == "dip":
            chain = gauge_by_dip_chain(
                litres_at_temperature=litres, litres_per_mm=slope, celsius=celsius, hydrometer_percent=reading, u=u
            )
            means, spreads = [litres, celsius, reading], [u.dip_mm * slope, u.celsius, u.percent]
        elif kind == "weight":
            gross, tare = choose.uniform(150, 650), choose.uniform(45, 130)
            chain = gauge_by_weight_chain(
                gross_kg=gross, tare_kg=tare, celsius=celsius, hydrometer_percent=reading, u=u
            )
            means = [gross, tare, celsius, reading]
            spreads = [u.kilograms, u.kilograms, u.celsius, u.percent]
        else:
            original, present = choose.uniform(1.045, 1.085), choose.uniform(0.994, 1.004)
            chain = gauge_wash_by_dip_chain(
                litres_at_temperature=litres,
                litres_per_mm=slope,
                celsius=celsius,
                original_gravity=original,
                present_gravity=present,
                table=TABLE,
                u=u,
            )
            means = [litres, celsius, original, present]
            spreads = [u.dip_mm * slope, u.celsius, u.gravity, u.gravity]
        lpa = _drawn_lpa(kind, means, spreads, draw)
        # Beside an edge half of the draws have the next factor, 0.001 on some 0.13.
        assert lpa.mean() == pytest.approx(chain.quantity.lpa, rel=5e-3 if kind == "wash" else 1e-3)
        worst = max(worst, abs(lpa.std(ddof=1) / (chain.quantity.uncertainty_ul / 1e6) - 1))
    assert worst < 0.03


def test_independent_calculation_is_the_same_calculation():
    one = np.array([2480.0]), np.array([14.0]), np.array([61.0])
    p, at_t = _liquid(one[2], one[1])
    assert float((one[0] * at_t * p / ETHANOL_20)[0]) == pytest.approx(gauge_by_dip(**TANK).lpa, abs=1e-5)


@pytest.mark.parametrize("edge", [46.5, 46.6, 57.1, 57.2, 67.9, 68.0, 78.8])
def test_at_the_edge_of_a_band_the_step_of_the_table_is_in_the_uncertainty(edge):
    """HMRC Excise Notice 226: bands meet at 46.5 and 46.6, 57.1 and 57.2 degrees and so on, each 0.001 % vol a degree
    apart. 20 000 draws of both gravities, each with the factor of its own drop, on 12 000 litres at 20 °C."""
    litres = 12_000.0
    original = 0.998 + edge / 1000
    chain = gauge_wash_by_dip_chain(
        litres_at_temperature=litres,
        litres_per_mm=3.2,
        celsius=20.0,
        original_gravity=original,
        present_gravity=0.998,
        table=TABLE,
        u=InstrumentUncertainty(dip_mm=0.0, celsius=0.0, gravity=2e-4),
    )
    draw = np.random.default_rng(7)
    drops = (draw.normal(original, 2e-4, 20_000) - draw.normal(0.998, 2e-4, 20_000)) * 1000
    factors = [float(TABLE.factor(Decimal(f"{drop:.6f}"))) for drop in drops]
    drawn = (drops * np.array(factors)).std(ddof=1) * litres / 100
    assert chain.quantity.uncertainty_ul / 1e6 == pytest.approx(drawn, rel=0.02)
    held = combined(Component(row.reading, row.contribution_lpa) for row in chain.contributions[2:4])
    assert chain.quantity.uncertainty_ul / 1e6 > 1.4 * held
    assert chain.contributions[-1].reading == "factor of the table"


def test_far_from_an_edge_the_table_adds_nothing():
    chain = gauge_wash_by_dip_chain(
        litres_at_temperature=12_000.0,
        litres_per_mm=3.2,
        celsius=20.0,
        original_gravity=1.0603,
        present_gravity=0.9982,
        table=TABLE,
    )
    assert "factor of the table" not in [row.reading for row in chain.contributions]


def test_two_gauges_of_one_wash_share_the_step_of_the_table():
    gauges = [
        gauge_wash_by_dip_chain(
            litres_at_temperature=litres,
            litres_per_mm=3.2,
            celsius=20.0,
            original_gravity=1.0552,
            present_gravity=0.998,
            table=TABLE,
        )
        for litres in (12_000.0, 6_000.0)
    ]
    shared = [
        component.source
        for chain, name in zip(gauges, "AB", strict=True)
        for component in chain.components(gauge=name)
        if component.source.startswith("step of the factor table")
    ]
    assert len(shared) == 2
    assert len(set(shared)) == 1
