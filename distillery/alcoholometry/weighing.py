"""Litres and pure alcohol from weight: a platform scale shows weight in air, the alcohol wants true mass.

``true = shown × (1 − a/8000) / (1 − a/density)`` with air a = 1.2 kg/m³ and the scale adjusted with weights of
8000 kg/m³ (conventional mass, OIML D 28; figures from memory). Leaving the air out loses 0.11 to 0.13 % of the alcohol.
"""

from .errors import require_not_negative
from .formula import isotherm
from .strength import (
    AIR_KG_PER_M3,
    ETHANOL_KG_PER_M3_20,
    REFERENCE_CELSIUS,
    WEIGHTS_KG_PER_M3,
    mass_fraction_of_percent_vol,
)


def true_kilograms(*, kilograms_in_air: float, percent20: float, celsius: float = REFERENCE_CELSIUS) -> float:
    """True mass in kg of spirit showing ``kilograms_in_air`` net on a scale, its liquid at ``celsius`` (-20 to 40).

    ``percent20`` is the true strength, 0 to 100 % vol. Raises OutOfRange, NotANumber or NegativeQuantity.
    """
    require_not_negative(kilograms_in_air, "Net weight")
    density = isotherm(celsius).density(mass_fraction_of_percent_vol(percent20))
    return kilograms_in_air * (1.0 - AIR_KG_PER_M3 / WEIGHTS_KG_PER_M3) / (1.0 - AIR_KG_PER_M3 / density)


def kilograms_in_air(*, true_kilograms: float, percent20: float, celsius: float = REFERENCE_CELSIUS) -> float:
    """What a scale shows for a true mass in kg; the inverse of true_kilograms, same refusals."""
    require_not_negative(true_kilograms, "Mass")
    density = isotherm(celsius).density(mass_fraction_of_percent_vol(percent20))
    return true_kilograms * (1.0 - AIR_KG_PER_M3 / density) / (1.0 - AIR_KG_PER_M3 / WEIGHTS_KG_PER_M3)


def litres20_of_true_kilograms(*, true_kilograms: float, percent20: float) -> float:
    """Litres at 20 °C of a true mass in kg at a strength in % vol; raises OutOfRange or NegativeQuantity."""
    density20 = isotherm(REFERENCE_CELSIUS).density(mass_fraction_of_percent_vol(percent20))
    return require_not_negative(true_kilograms, "Mass") / density20 * 1000.0


def litres20_of_weighed_kg(*, kilograms_in_air: float, percent20: float, celsius: float = REFERENCE_CELSIUS) -> float:
    """Litres at 20 °C of spirit showing ``kilograms_in_air`` net on a scale; refusals as true_kilograms."""
    return litres20_of_true_kilograms(
        true_kilograms=true_kilograms(kilograms_in_air=kilograms_in_air, percent20=percent20, celsius=celsius),
        percent20=percent20,
    )


def lpa_of_true_kilograms(*, true_kilograms: float, percent20: float) -> float:
    """Litres of pure alcohol in a true mass in kg at a strength in % vol; raises OutOfRange or NegativeQuantity."""
    mass_fraction = mass_fraction_of_percent_vol(percent20)
    return require_not_negative(true_kilograms, "Mass") * mass_fraction / ETHANOL_KG_PER_M3_20 * 1000.0


def lpa_of_weighed_kg(*, kilograms_in_air: float, percent20: float, celsius: float = REFERENCE_CELSIUS) -> float:
    """Litres of pure alcohol of spirit showing ``kilograms_in_air`` net on a scale; refusals as true_kilograms."""
    return lpa_of_true_kilograms(
        true_kilograms=true_kilograms(kilograms_in_air=kilograms_in_air, percent20=percent20, celsius=celsius),
        percent20=percent20,
    )
