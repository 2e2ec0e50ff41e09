"""Gravity of wort and wash: brought to 20 °C, as Plato, as extract, and the spirit it promises.

Water: Tanaka et al., Metrologia 38 (2001) 301-309, 0 to 40 °C, air-free at 101 325 Pa. Plato: cubic fitted to the table
of the US National Bureau of Standards, cited after Bates in a public article, relative density 1.000 to 1.179. Spirit
yield: J. Inst. Brew. 102 (1996) 433-437. Degrees are 1000 × (relative density − 1). Wort is taken to swell like water,
which is fair from 10 to 30 °C.
"""

from typing import Final

from .errors import (
    ImpossibleGravities,
    NoReferenceTemperature,
    OutOfRange,
    require_finite,
    require_not_negative,
    require_percent,
)
from .reading import SODA_LIME_PER_CELSIUS, UNCORRECTED, Certificate

LOWEST_PLATO_GRAVITY: Final = 1.000
HIGHEST_PLATO_GRAVITY: Final = 1.179
_PLATO: Final = (182.46007, -775.68212, 1262.7794, -669.56218)
# Litre-degrees per kg for each percent of extract: 386 for sucrose at 20 °C (from memory).
LITRE_DEGREES_PER_PERCENT: Final = 3.86
# LPA per tonne for each percent of fermentable extract.
YIELD_FACTOR: Final = 6.06
ATTENUATION_FACTOR: Final = 81.4


def water_kg_per_m3(celsius: float) -> float:
    """Density of pure water in vacuum, kg/m³, 0 to 40 °C; raises OutOfRange or NotANumber."""
    if not 0.0 <= require_finite(celsius, "Temperature") <= 40.0:
        raise OutOfRange(
            f"At {celsius:g} °C a gravity cannot be corrected: bring the sample between 0 and 40 °C and read again."
        )
    t = celsius
    return 999.974950 * (1.0 - (t - 3.983035) ** 2 * (t + 301.797) / (522528.9 * (t + 69.34881)))


def corrected_gravity(
    *,
    reading: float,
    celsius: float,
    reference_celsius: float | None = 20.0,
    glass_per_celsius: float = SODA_LIME_PER_CELSIUS,
    certificate: Certificate = UNCORRECTED,
    thermometer: Certificate = UNCORRECTED,
) -> float:
    """Relative density a saccharometer would show at its reference temperature, from its reading at ``celsius``.

    Certificates are applied first. Raises OutOfRange outside 0 to 40 °C, NoReferenceTemperature, OutsideCertificate.
    """
    if reference_celsius is None:
        raise NoReferenceTemperature(
            "This saccharometer has no reference temperature on record: read it off the instrument and enter it."
        )
    shown = require_gravity(certificate.corrected(reading, "gravity"), "Gravity")
    liquid_celsius = thermometer.corrected(celsius, "temperature")
    glass = 1.0 - glass_per_celsius * (liquid_celsius - reference_celsius)
    return shown * glass * water_kg_per_m3(reference_celsius) / water_kg_per_m3(liquid_celsius)


def plato_of_gravity(gravity: float) -> float:
    """Degrees Plato, grams of extract in 100 g of wort, of a relative density 1.000 to 1.179; raises OutOfRange."""
    if not LOWEST_PLATO_GRAVITY <= require_finite(gravity, "Gravity") <= HIGHEST_PLATO_GRAVITY:
        raise OutOfRange(
            f"Plato is not defined here for a gravity of {gravity:g}: the table runs from {LOWEST_PLATO_GRAVITY:.3f} "
            f"to {HIGHEST_PLATO_GRAVITY:.3f}."
        )
    total = 0.0
    for coefficient in _PLATO:
        total = total * gravity + coefficient
    return total


def gravity_of_plato(plato: float) -> float:
    """Relative density of a wort in degrees Plato; the inverse of plato_of_gravity, raises OutOfRange."""
    low, high = LOWEST_PLATO_GRAVITY, HIGHEST_PLATO_GRAVITY
    if not plato_of_gravity(low) <= require_finite(plato, "Plato") <= plato_of_gravity(high):
        raise OutOfRange(f"{plato:g} °P is outside the table, 0 to {plato_of_gravity(high):.2f} °P: check the reading.")
    while high - low > 1e-14:
        middle = 0.5 * (low + high)
        if middle in (low, high):
            break
        low, high = (middle, high) if plato_of_gravity(middle) < plato else (low, middle)
    return 0.5 * (low + high)


def degrees_of_gravity(gravity: float) -> float:
    """Degrees, 1000 × (relative density − 1); raises OutOfRange or NotANumber."""
    return 1000.0 * (require_gravity(gravity, "Gravity") - 1.0)


def original_gravity_with_addition(*, measured_gravity: float, addition_for_work: float) -> float:
    """Original gravity where fermentation began before it could be read (HMRC SPIR4080: addition for work).

    Both in relative density; measured figure and addition stay on record apart. Raises OutOfRange, NegativeQuantity.
    """
    return require_gravity(measured_gravity, "Measured gravity") + require_not_negative(
        addition_for_work, "Addition for work"
    )


def apparent_attenuation_percent(*, original_gravity: float, present_gravity: float) -> float:
    """Share of the extract that seems gone, %; above 100 is normal, since alcohol is lighter than water.

    Raises ImpossibleGravities or OutOfRange.
    """
    return 100.0 * _attenuation(original_gravity, present_gravity)


def real_fermentability_percent(
    *, original_gravity: float, present_gravity: float, attenuation_factor: float = ATTENUATION_FACTOR
) -> float:
    """Share of the extract really fermented, %: attenuation factor × apparent attenuation.

    J. Inst. Brew. 102 (1996) 433-437 (form of the equation from memory). Raises ImpossibleGravities or OutOfRange.
    """
    return attenuation_factor * _attenuation(original_gravity, present_gravity)


def fermentable_extract_percent(*, soluble_extract_percent: float, fermentability_percent: float) -> float:
    """Fermentable extract of malt, %; both figures on the same basis. Raises OutOfRange or NotANumber."""
    return (
        require_percent(soluble_extract_percent, "Soluble extract")
        * require_percent(fermentability_percent, "Fermentability")
        / 100.0
    )


def predicted_spirit_yield_lpa_per_tonne(
    *, soluble_extract_percent: float, fermentability_percent: float, factor: float = YIELD_FACTOR
) -> float:
    """LPA a tonne of malt should give; the factor already allows for process losses. Refusals as above."""
    return factor * fermentable_extract_percent(
        soluble_extract_percent=soluble_extract_percent, fermentability_percent=fermentability_percent
    )


def litre_degrees_per_kg(*, litres: float, gravity: float, grist_kg: float) -> float:
    """Extract collected, L°/kg: litres of wort × degrees over grist. Raises OutOfRange or NegativeQuantity."""
    if require_not_negative(grist_kg, "Grist") == 0:
        raise OutOfRange("The grist weighs 0 kg: enter the weight of the mash before asking for its extract.")
    return require_not_negative(litres, "Wort") * degrees_of_gravity(gravity) / grist_kg


def extract_percent_of_litre_degrees(
    litre_degrees: float, *, litre_degrees_per_percent: float = LITRE_DEGREES_PER_PERCENT
) -> float:
    """Extract as % of the grist from litre-degrees per kg; raises NegativeQuantity or NotANumber."""
    return require_not_negative(litre_degrees, "Extract") / litre_degrees_per_percent


def litre_degrees_of_extract_percent(
    extract_percent: float, *, litre_degrees_per_percent: float = LITRE_DEGREES_PER_PERCENT
) -> float:
    """Litre-degrees per kg from extract as % of the grist; raises OutOfRange or NotANumber."""
    return require_percent(extract_percent, "Extract") * litre_degrees_per_percent


def extract_as_is_percent(*, dry_extract_percent: float, moisture_percent: float) -> float:
    """Extract of malt as delivered from extract on dry malt; raises OutOfRange or NotANumber."""
    return (
        require_percent(dry_extract_percent, "Extract on dry malt")
        * (100.0 - require_percent(moisture_percent, "Moisture"))
        / 100.0
    )


def require_gravity(gravity: float, what: str) -> float:
    """Return ``gravity``; raise NotANumber or OutOfRange unless it is a relative density from 0.9 to 1.3."""
    require_finite(gravity, what)
    if not 0.9 <= gravity <= 1.3:
        raise OutOfRange(
            f"{what} is {gravity:g}: enter it as relative density, 1.0603 and not 1060.3, between 0.9 and 1.3."
        )
    return gravity


def _attenuation(original_gravity: float, present_gravity: float) -> float:
    original = require_gravity(original_gravity, "Original gravity")
    present = require_gravity(present_gravity, "Present gravity")
    if present > original:
        raise ImpossibleGravities(
            f"The present gravity {present:g} is above the original {original:g}: swapped, or one misread."
        )
    if original <= 1.0:
        raise ImpossibleGravities(f"An original gravity of {original:g} holds no extract: read it again.")
    return (original - present) / (original - 1.0)
