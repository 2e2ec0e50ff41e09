"""What lasts in an instrument, within one gauge: by hand, and against a simulation of the same calculation."""

from __future__ import annotations

import random
import statistics
from datetime import date

import pytest

from distillery.alcoholometry.errors import NoReferenceTemperature, OutOfRange
from distillery.alcoholometry.gauging.chain import (
    Corrections,
    InstrumentNames,
    InstrumentUncertainty,
    LastingShares,
)
from distillery.alcoholometry.gauging.gauge import gauge_by_dip_chain, gauge_by_weight_chain, gauge_wash_by_dip_chain
from distillery.alcoholometry.gravity import hmrc_gravity_table
from distillery.alcoholometry.obscuration import Obscuration
from distillery.alcoholometry.reading import Certificate, DensityMeter, percent_shown_by

TANK = {"litres_at_temperature": 2480.0, "litres_per_mm": 2.48, "celsius": 14.0, "hydrometer_percent": 61.0}
WASH = {
    "litres_at_temperature": 9000.0,
    "litres_per_mm": 2.25,
    "celsius": 30.0,
    "original_gravity": 1.0603,
    "present_gravity": 0.998,
}


def test_gross_and_tare_lose_what_lasts_in_the_scale():
    """Two weighings with 0.1 kg of chance each and 0.3 kg that lasts: √2 × 0.1 kg is left, worked by hand."""
    u_all = (0.1**2 + 0.3**2) ** 0.5
    weights = {"gross_kg": 250.0, "tare_kg": 50.0, "celsius": 20.0, "hydrometer_percent": 63.5}
    exact = {"celsius": 0.0, "percent": 0.0}
    shared = InstrumentUncertainty(kilograms=u_all, lasting=LastingShares(kilograms=0.9), **exact)
    apart = InstrumentUncertainty(kilograms=u_all, **exact)
    chance = InstrumentUncertainty(kilograms=0.1, **exact)
    found, plain, wanted = (gauge_by_weight_chain(**weights, u=u) for u in (shared, apart, chance))
    assert found.quantity.uncertainty_ul == pytest.approx(wanted.quantity.uncertainty_ul, rel=1e-9)
    assert plain.quantity.uncertainty_ul == pytest.approx(u_all / 0.1 * wanted.quantity.uncertainty_ul, rel=1e-9)
    # 0.70549 LPA for each kg weighed in air at 63.5 %: OIML R 22:1975 and OIML D 28, computed outside the program.
    assert found.quantity.uncertainty_ul / 1e6 == pytest.approx(2**0.5 * 0.1 * 0.70549, rel=1e-4)


def test_two_gravities_lose_what_lasts_in_the_saccharometer():
    lasting = InstrumentUncertainty(gravity=0.0005, dip_mm=0.0, celsius=0.0, lasting=LastingShares(gravity=1.0))
    chain = gauge_wash_by_dip_chain(**WASH, table=hmrc_gravity_table(), u=lasting)
    assert chain.uncertainty_percent == pytest.approx(0.0, abs=1e-9)
    assert chain.quantity.uncertainty_ul == pytest.approx(0.0, abs=1.0)


def test_certificates_of_saccharometer_and_scale_are_applied_to_each_reading():
    """Corrections by hand: +0.0003 at 1.0603 and -0.0002 at 0.998 are what those readings corrected would give."""
    saccharometer = Certificate(((0.998, -0.0002), (1.0603, 0.0003)), "certificate S1")
    corrected = gauge_wash_by_dip_chain(
        **WASH, table=hmrc_gravity_table(), corrections=Corrections(saccharometer=saccharometer)
    )
    by_hand = gauge_wash_by_dip_chain(
        **(WASH | {"original_gravity": 1.0606, "present_gravity": 0.9978}), table=hmrc_gravity_table()
    )
    assert corrected.quantity.pure_ul == pytest.approx(by_hand.quantity.pure_ul, abs=2)
    assert [step.source for step in corrected.steps[:2]] == ["certificate S1", "certificate S1"]


def test_litres_kilograms_and_strength_have_their_uncertainty_too():
    """3,000 draws of the same calculation, errors of a normal shape: within 5 %."""
    u = InstrumentUncertainty(dip_mm=0.85, celsius=0.2, percent=0.1, calibration_share=0.001)
    hidden = Obscuration(0.4, date(2027, 3, 1), "invented", 0.05)
    chain = gauge_by_dip_chain(**TANK, u=u, corrections=Corrections(obscuration=hidden))
    rng, draws = random.Random(14), []
    for _ in range(3000):
        drawn = gauge_by_dip_chain(
            litres_at_temperature=(2480 + 2.48 * rng.gauss(0, 0.85)) * (1 + rng.gauss(0, 0.001)),
            litres_per_mm=2.48,
            celsius=rng.gauss(14, 0.2),
            hydrometer_percent=rng.gauss(61, 0.1),
            corrections=Corrections(obscuration=Obscuration(rng.gauss(0.4, 0.05), date(2027, 3, 1), "invented")),
        ).quantity
        draws.append((drawn.litres20, drawn.mass_g / 1000, drawn.percent20, drawn.lpa))
    litres, kilograms, percent, lpa = (statistics.stdev(column) for column in zip(*draws, strict=True))
    assert chain.uncertainty_litres20 == pytest.approx(litres, rel=0.05)
    assert chain.uncertainty_kilograms == pytest.approx(kilograms, rel=0.05)
    assert chain.uncertainty_percent == pytest.approx(percent, rel=0.05)
    assert chain.quantity.uncertainty_ul / 1e6 == pytest.approx(lpa, rel=0.05)


def test_components_take_the_shares_the_readings_came_with():
    u = InstrumentUncertainty(lasting=LastingShares(celsius=0.5))
    chain = gauge_by_dip_chain(**TANK, u=u, instruments=InstrumentNames(thermometer="T1"))
    lasting = [part for part in chain.components(gauge="G") if part.source == "T1"]
    celsius = next(row for row in chain.contributions if row.reading == "temperature")
    assert lasting[0].signed == pytest.approx(celsius.contribution_lpa * 1e6 * 0.5**0.5)
    assert not [part for part in chain.components(gauge="G", lasting_share={"T1": 0.0}) if part.source == "T1"]


@pytest.mark.parametrize("share", [-0.1, 1.1])
def test_a_share_is_from_nothing_to_all(share):
    with pytest.raises(OutOfRange, match="not 0 to 1"):
        LastingShares(celsius=share)


def test_a_meter_without_the_temperature_of_its_cell_is_refused():
    with pytest.raises(NoReferenceTemperature, match="cell is kept at"):
        DensityMeter("air", cell_celsius=None)


@pytest.mark.parametrize(
    ("percent", "vacuum", "air"),
    # OIML R 22:1975 at 20 °C, in air by OIML D 28 (1.2 kg/m³, weights of 8000); computed outside the program.
    [(8, 987.164, 986.112), (40, 948.045, 946.987), (63.5, 901.154, 900.089), (96, 807.420, 806.341)],
)
def test_a_meter_shows_the_same_strength_in_air_and_in_vacuum(percent, vacuum, air):
    for basis, density in (("vacuum", vacuum), ("air", air)):
        shown = percent_shown_by(reading=density, celsius=7.0, instrument=DensityMeter(basis))
        assert shown == pytest.approx(percent, abs=0.001)
