"""Ethanol and water as the simulator knows them: density, strength, what a glass alcoholometer shows.

The general formula of OIML R 22:1975 (also Council Directive 76/766/EEC, Annex, point 4), written apart from
the program's own so that one can be used to judge the other. Densities are in vacuum, kg/m3, valid from -20 to
40 °C. A strength is % vol at 20 °C. Anything the formula does not cover raises ValueError. Solids (wash,
liqueurs) are left out.
"""

import csv
from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path

import numpy as np

REFERENCE_CELSIUS = 20.0
GLASS_EXPANSION_PER_CELSIUS = 25e-6
"""Cubic expansion of the glass of the alcoholometer (OIML R 22:1975)."""
AIR_KG_PER_M3 = 1.2
WEIGHTS_KG_PER_M3 = 8000.0
"""Conventional air and weights of a balance (OIML D 28)."""


def _coefficients() -> np.ndarray:
    with Path(__file__).with_name("oiml_r22.csv").open(encoding="utf-8") as lines:
        rows = list(csv.reader(line for line in lines if not line.startswith("#")))[1:]
    return np.array([[float(cell) for cell in row[1:]] for row in rows])


_COEFFICIENTS = _coefficients()


@lru_cache(maxsize=8192)
def _density_polynomial(celsius: float) -> tuple[float, ...]:
    """Density as a polynomial of the mass fraction at one temperature, lowest power first."""
    if not -20.0 <= celsius <= 40.0:
        raise ValueError(f"no density is known at {celsius} °C: the formula runs from -20 to 40 °C")
    warmth = (celsius - REFERENCE_CELSIUS) ** np.arange(7)
    return tuple(float(value) for value in warmth @ _COEFFICIENTS)


def _value_and_slope(polynomial: Sequence[float], x: float) -> tuple[float, float]:
    value = slope = 0.0
    for coefficient in reversed(polynomial):
        slope = slope * x + value
        value = value * x + coefficient
    return value, slope


def _root(polynomial: Sequence[float], target: float, low: float = 0.0, high: float = 1.0) -> float:
    """Where a polynomial that only rises or only falls between 0 and 1 meets the target."""
    at_low = _value_and_slope(polynomial, low)[0] - target
    at_high = _value_and_slope(polynomial, high)[0] - target
    for end, gap in ((low, at_low), (high, at_high)):
        if abs(gap) < 1e-9:
            return end
    if at_low * at_high > 0:
        raise ValueError("no mixture of ethanol and water is like that")
    x = 0.5 * (low + high)
    for _ in range(100):
        value, slope = _value_and_slope(polynomial, x)
        gap = value - target
        if gap * at_low > 0:
            low = x
        else:
            high = x
        newton = x - gap / slope if slope else low
        nearer = newton if low < newton < high else 0.5 * (low + high)
        if abs(nearer - x) < 1e-14:
            return nearer
        x = nearer
    return x


def density(mass_fraction: float, celsius: float) -> float:
    """Density in vacuum, kg/m3, of a mixture with this mass fraction (0 to 1) of ethanol."""
    if not 0.0 <= mass_fraction <= 1.0:
        raise ValueError(f"a mass fraction lies between 0 and 1, not {mass_fraction}")
    return _value_and_slope(_density_polynomial(celsius), mass_fraction)[0]


PURE_ETHANOL_KG_PER_M3 = density(1.0, REFERENCE_CELSIUS)


@lru_cache(maxsize=16)
def _strength_polynomial(at_celsius: float) -> tuple[float, ...]:
    """Strength by volume at one temperature as a polynomial of the mass fraction, lowest power first."""
    pure = density(1.0, at_celsius)
    return (0.0, *(100.0 * value / pure for value in _density_polynomial(at_celsius)))


def percent_of(mass_fraction: float, at_celsius: float = REFERENCE_CELSIUS) -> float:
    """Strength, % vol at 20 °C (or at another temperature), of a mass fraction of ethanol."""
    return _value_and_slope(_strength_polynomial(at_celsius), mass_fraction)[0]


@lru_cache(maxsize=8192)
def mass_fraction_of(percent: float, at_celsius: float = REFERENCE_CELSIUS) -> float:
    """Mass fraction of ethanol of a strength, % vol at 20 °C (or at another temperature)."""
    return _root(_strength_polynomial(at_celsius), percent)


def mass_fraction_at(density_kg_per_m3: float, celsius: float) -> float:
    """Mass fraction of the mixture that has this density in vacuum at this temperature."""
    return _root(_density_polynomial(celsius), density_kg_per_m3)


def reading_shown(percent: float, celsius: float, marked_at: float = REFERENCE_CELSIUS) -> float:
    """What a glass alcoholometer shows, % vol, in liquid of this strength at this temperature.

    The instrument is marked for `marked_at`, 20 °C unless told otherwise; both strengths are by volume at that
    temperature.
    """
    liquid = density(mass_fraction_of(percent, marked_at), celsius)
    mark = liquid / (1.0 - GLASS_EXPANSION_PER_CELSIUS * (celsius - marked_at))
    return percent_of(mass_fraction_at(mark, marked_at), marked_at)


def strength_read(reading: float, celsius: float, marked_at: float = REFERENCE_CELSIUS) -> float:
    """Strength, % vol, of liquid in which that alcoholometer shows this reading at this temperature."""
    mark = density(mass_fraction_of(reading, marked_at), marked_at)
    liquid = mark * (1.0 - GLASS_EXPANSION_PER_CELSIUS * (celsius - marked_at))
    return percent_of(mass_fraction_at(liquid, celsius), marked_at)


def weight_in_air(mass_kg: float, density_kg_per_m3: float) -> float:
    """What a scale shows, kg, for this true mass of liquid."""
    return mass_kg * (1.0 - AIR_KG_PER_M3 / density_kg_per_m3) / (1.0 - AIR_KG_PER_M3 / WEIGHTS_KG_PER_M3)


def mass_from_weight(weight_kg: float, density_kg_per_m3: float) -> float:
    """True mass, kg, of liquid for which a scale shows this weight."""
    return weight_kg * (1.0 - AIR_KG_PER_M3 / WEIGHTS_KG_PER_M3) / (1.0 - AIR_KG_PER_M3 / density_kg_per_m3)
