"""Instruments and what they show: the dip, the thermometer, the glass alcoholometer, the saccharometer, the scale.

Each reads the truth with its own standard error and rounds to its own division. `alcohol_of` is the way back from the
readings of one gauge to litres of pure alcohol, and `STANDARD_ERRORS` the errors with the rounding counted in.
"""

import math
from dataclasses import dataclass

import numpy as np

from .ethanol_water import density, mass_fraction_of, mass_from_weight, reading_shown, strength_read
from .liquid import Liquid
from .vessels import Calibration, Vessel

DIP_MM = 0.8
THERMOMETER_CELSIUS = 0.07
ALCOHOLOMETER_PERCENT = 0.05
GRAVITY = 0.0002
SCALE_KG = 0.07

STANDARD_ERRORS = {
    "dip": math.hypot(DIP_MM, 1 / math.sqrt(12)),
    "celsius": math.hypot(THERMOMETER_CELSIUS, 0.1 / math.sqrt(12)),
    "hydrometer": math.hypot(ALCOHOLOMETER_PERCENT, 0.1 / math.sqrt(12)),
    "gravity": math.hypot(GRAVITY, 0.0001 / math.sqrt(12)),
    "weight": math.hypot(SCALE_KG, 0.1 / math.sqrt(12)),
    "bottles": 0.0,
}

# Degrees of gravity lost, the last of each band, and % vol for each of them (HMRC Excise Notice 226, factor f).
_GRAVITY_FACTORS = (
    (6.9, 0.125),
    (10.4, 0.126),
    (17.2, 0.127),
    (26.1, 0.128),
    (36.0, 0.129),
    (46.5, 0.130),
    (57.1, 0.131),
    (67.9, 0.132),
    (78.8, 0.133),
    (89.7, 0.134),
    (100.7, 0.135),
)


def percent_by_attenuation(original: float, final: float) -> float:
    """Strength of wash, % vol, from relative densities such as 1.0603; ValueError where no factor is published."""
    lost = round(1000.0 * (original - final), 1)
    if lost < 0:
        raise ValueError("the gravity rose")
    for last, factor in _GRAVITY_FACTORS:
        if lost <= last:
            return 1000.0 * (original - final) * factor
    raise ValueError(f"no factor is published for {lost} degrees")


def litres_at_20(litres: float, celsius: float, percent: float) -> float:
    """Litres at 20 °C of liquid of this strength that measures so much at this temperature."""
    fraction = mass_fraction_of(percent)
    return litres * density(fraction, celsius) / density(fraction, 20.0)


def alcohol_of(calibration: Calibration, dip_mm: float, celsius: float, hydrometer: float | None) -> float:
    """Litres of pure alcohol that one gauge stands for; no hydrometer reading means an empty vessel."""
    if hydrometer is None:
        return 0.0
    percent = strength_read(hydrometer, celsius)
    return litres_at_20(calibration.litres_at(dip_mm), celsius, percent) * percent / 100.0


def alcohol_of_weight(net_kg: float, celsius: float, hydrometer: float) -> float:
    """Litres of pure alcohol in spirit weighed in air."""
    percent = strength_read(hydrometer, celsius)
    fraction = mass_fraction_of(percent)
    mass = mass_from_weight(net_kg, density(fraction, celsius))
    return mass / density(fraction, 20.0) * 1000.0 * percent / 100.0


@dataclass(frozen=True)
class Gauge:
    """The readings of one gauge of a vessel, beside what was truly there."""

    calibration: Calibration
    dip_mm: int
    celsius: float
    hydrometer_percent: float | None
    true: Liquid

    def cells(self, prefix: str) -> dict[str, int | float | None]:
        return {
            f"{prefix}_dip_mm": self.dip_mm,
            f"{prefix}_celsius": self.celsius,
            f"{prefix}_hydrometer_percent": self.hydrometer_percent,
        }


class Instruments:
    """One set of instruments and the hands that use them, with a random stream of their own."""

    def __init__(self, rng: np.random.Generator) -> None:
        self.rng = rng

    def dip(self, calibration: Calibration, litres: float) -> int:
        shown = round(calibration.dip_at(litres) + self.rng.normal(0.0, DIP_MM))
        return min(max(1, shown), calibration.dips[-1])

    def temperature(self, about: float, spread: float = 1.0) -> float:
        """The true temperature that liquid kept at about this temperature happens to have now."""
        return about + float(np.clip(self.rng.normal(), -2.5, 2.5)) * spread

    def celsius(self, true: float) -> float:
        return round(true + self.rng.normal(0.0, THERMOMETER_CELSIUS), 1)

    def hydrometer(self, percent: float, celsius: float) -> float:
        return round(reading_shown(percent, celsius) + self.rng.normal(0.0, ALCOHOLOMETER_PERCENT), 1)

    def gravity(self, true: float) -> float:
        return round(true + self.rng.normal(0.0, GRAVITY), 4)

    def weight(self, true_kg: float) -> float:
        return round(true_kg + self.rng.normal(0.0, SCALE_KG), 1)

    def gauge(self, vessel: Vessel) -> Gauge:
        """Dip, thermometer and alcoholometer in a vessel; an empty one shows a dip of 0 and no strength."""
        celsius = self.temperature(vessel.celsius)
        liquid = vessel.contents
        if liquid.is_empty:
            return Gauge(vessel.calibration, 0, self.celsius(celsius), None, liquid)
        dip = self.dip(vessel.calibration, liquid.litres(celsius))
        strength = self.hydrometer(liquid.percent, celsius)
        return Gauge(vessel.calibration, dip, self.celsius(celsius), strength, liquid)
