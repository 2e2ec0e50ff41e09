"""Sums of the fermentation: yeast, carbon dioxide and fresh air, heat, the course of the gravity, washbacks needed.

Units stand in the names; LPA are litres of pure alcohol at 20 °C. Wash strength and attenuation are those of
`distillery.alcoholometry` (gravity, wort). Whatever is not a number, below nothing or beyond its range raises an
AlcoholometryError whose sentence says what to do. Nothing here says that air is safe: it is tested before anybody
leans in.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import ceil, exp
from typing import Final

from distillery.alcoholometry.errors import OutOfRange, require_finite, require_not_negative, require_percent

# C6H12O6 -> 2 C2H5OH + 2 CO2; molar masses in g/mol, ethanol at 20 °C in kg a litre, a mole of gas at 20 °C and 1 atm.
ETHANOL_KG_PER_LITRE: Final = 0.78924
ETHANOL_GRAMS_PER_MOLE: Final = 46.068
CARBON_DIOXIDE_GRAMS_PER_MOLE: Final = 44.0095
GAS_LITRES_PER_MOLE: Final = 24.055
MOLES_PER_LPA: Final = 1000.0 * ETHANOL_KG_PER_LITRE / ETHANOL_GRAMS_PER_MOLE
CARBON_DIOXIDE_KG_PER_LPA: Final = MOLES_PER_LPA * CARBON_DIOXIDE_GRAMS_PER_MOLE / 1000.0
CARBON_DIOXIDE_LITRES_PER_LPA: Final = MOLES_PER_LPA * GAS_LITRES_PER_MOLE
# Heat of a mole of hexose fermented: from standard enthalpies, between undissolved (69) and dissolved (101).
HEAT_KJ_PER_MOLE_HEXOSE: Final = 99.0
# Of wash, kJ for each kg and kelvin; a litre of wash is taken as a kg.
WASH_HEAT_CAPACITY: Final = 4.0
OUTSIDE_AIR_SHARE: Final = 0.0004
# A proof gallon holds 57.1 % of its volume in alcohol; one was presumed in 100 gallons of wash for each 5 degrees lost.
DEGREES_A_PROOF_GALLON: Final = 5.0


class YeastForm(StrEnum):
    """The form yeast is weighed in; without it a weight says nothing of how much yeast it is."""

    PRESSED = "pressed"
    CREAM = "cream"
    DRIED = "dried"


@dataclass(frozen=True, slots=True)
class Yeast:
    """What a form of yeast usually holds: dry matter in %, cells a gram (0 where no figure is known)."""

    dry_percent: float
    cells_per_gram: float


# Dry matter of pressed and cream yeast: Whisky Magazine, 'Yeast use'. Dried yeast, and cells a gram: from memory.
YEAST: Final = {
    YeastForm.PRESSED: Yeast(28.0, 1e10),
    YeastForm.CREAM: Yeast(20.0, 0.0),
    YeastForm.DRIED: Yeast(94.0, 2e10),
}


@dataclass(frozen=True, slots=True)
class Pitched:
    """A weight of yeast by what it is measured against. `cells_per_ml` is 0 where the form has no known count."""

    kg_per_hectolitre: float
    grams_per_litre: float
    percent_of_malt: float | None
    dry_percent_of_malt: float | None
    cells_per_ml: float


class Exposure(StrEnum):
    """What a reading of carbon dioxide says of the two limits; never that the air is safe."""

    UNDER_BOTH = "under both limits"
    OVER_LONG_LEVEL = "over the 8 hour level, under the 15 minute limit"
    OVER_LONG = "over the 8 hour limit"
    OVER_SHORT = "over the 15 minute limit"


def pitched(*, yeast_kg: float, form: YeastForm, wash_litres: float, malt_kg: float | None = None) -> Pitched:
    """Rates of a pitching. 40 kg in 24,000 L are 0.167 kg/hL; dried, 3.3e7 cells a mL; pressed on 5,000 kg of malt,
    0.224 % of it dry.

    Wash and malt above nothing. Raises NegativeQuantity or OutOfRange.
    """
    kilograms = require_not_negative(yeast_kg, "Yeast")
    if not require_not_negative(wash_litres, "Wash"):
        raise OutOfRange("The wash is 0 litres: enter what was set.")
    of_malt = None if malt_kg is None else 100.0 * kilograms / _above_nothing(malt_kg, "Malt", "kg")
    kind, grams = YEAST[form], 1000.0 * kilograms / wash_litres
    return Pitched(
        kg_per_hectolitre=100.0 * kilograms / wash_litres,
        grams_per_litre=grams,
        percent_of_malt=of_malt,
        dry_percent_of_malt=None if of_malt is None else of_malt * kind.dry_percent / 100.0,
        cells_per_ml=grams * kind.cells_per_gram / 1000.0,
    )


def carbon_dioxide_kg(lpa: float) -> float:
    """Carbon dioxide given off while so many LPA were made, kg: 0.754 a litre by stoichiometry. Raises as above."""
    return require_not_negative(lpa, "Pure alcohol") * CARBON_DIOXIDE_KG_PER_LPA


def carbon_dioxide_cubic_metres(lpa: float) -> float:
    """The same as gas at 20 °C and 1 atm, m³: 412 litres for each LPA, as an ideal gas. Raises as above."""
    return require_not_negative(lpa, "Pure alcohol") * CARBON_DIOXIDE_LITRES_PER_LPA / 1000.0


def fresh_air_cubic_metres_per_hour(
    *, carbon_dioxide_m3_per_hour: float, limit_share: float, outside_share: float = OUTSIDE_AIR_SHARE
) -> float:
    """Fresh air that thins a flow of carbon dioxide down to a limit, m³/h; shares of the volume, 0.005 for 5,000 ppm.

    5 % an hour of 2,100 LPA, 43.3 m³/h, would take 9,407 m³/h for 5,000 ppm: so much air that the gas is taken away
    where it comes off, and thinning is no way of working. The limit above what outside air holds; raises OutOfRange.
    """
    flow = require_not_negative(carbon_dioxide_m3_per_hour, "Carbon dioxide")
    outside = require_not_negative(outside_share, "Carbon dioxide in outside air")
    if not outside < require_finite(limit_share, "Limit") <= 1.0:
        raise OutOfRange(f"A limit of {limit_share:g} is not above what outside air holds, {outside:g}: check both.")
    return flow / (limit_share - outside)


def exposure(
    *,
    ppm_8_hours: float | None = None,
    ppm_15_minutes: float | None = None,
    limit_8_hours_ppm: float,
    limit_15_minutes_ppm: float,
) -> Exposure:
    """What an average over 8 hours, one over 15 minutes, or both say of the limits, which are dated figures.

    EH40/2005 gives 5,000 ppm over 8 hours and 15,000 over 15 minutes: 5,200 over a shift is over, 14,000 in a short
    reading is over the level of the one and under the other. Raises OutOfRange where neither was read.
    """
    if ppm_8_hours is None and ppm_15_minutes is None:
        raise OutOfRange("Neither average was read: enter one of them, in ppm.")
    short = None if ppm_15_minutes is None else require_not_negative(ppm_15_minutes, "Average over 15 minutes")
    long = None if ppm_8_hours is None else require_not_negative(ppm_8_hours, "Average over 8 hours")
    if short is not None and short > limit_15_minutes_ppm:
        return Exposure.OVER_SHORT
    if long is not None and long > limit_8_hours_ppm:
        return Exposure.OVER_LONG
    if short is not None and short > limit_8_hours_ppm:
        return Exposure.OVER_LONG_LEVEL
    return Exposure.UNDER_BOTH


def heat_kilojoules(lpa: float, *, kilojoules_per_mole_hexose: float = HEAT_KJ_PER_MOLE_HEXOSE) -> float:
    """Heat given off while so many LPA were made, kJ: about 848 a litre (a mole of hexose makes two of ethanol).

    Standard enthalpies, from memory. Raises NegativeQuantity or NotANumber.
    """
    heat = require_not_negative(kilojoules_per_mole_hexose, "Heat of fermentation")
    return require_not_negative(lpa, "Pure alcohol") * MOLES_PER_LPA / 2.0 * heat


def adiabatic_rise_celsius(
    wash_percent: float,
    *,
    kilojoules_per_mole_hexose: float = HEAT_KJ_PER_MOLE_HEXOSE,
    heat_capacity: float = WASH_HEAT_CAPACITY,
) -> float:
    """How much warmer wash of a strength (% vol) grows where no heat leaves it, °C: 18.0 for 8.5 % vol.

    Heat capacity in kJ for each litre and kelvin, above nothing. Raises OutOfRange.
    """
    litres = require_percent(wash_percent, "Strength of the wash") / 100.0
    made = heat_kilojoules(litres, kilojoules_per_mole_hexose=kilojoules_per_mole_hexose)
    return made / _above_nothing(heat_capacity, "Heat capacity", "kJ")


def gravity_at_hour(
    hour: float, *, original_degrees: float, final_degrees: float, steepness_per_hour: float, middle_hour: float
) -> float:
    """Degrees at an hour by the four-parameter logistic, ``FG + (OG − FG) / (1 + exp(B(t − M)))``.

    The kind of curve used by Reid et al., J. Inst. Brew. 129(2) 2023 (its form from memory). B above nothing; the final
    gravity below the original. Raises OutOfRange or NotANumber.
    """
    if require_finite(final_degrees, "Final gravity") >= require_finite(original_degrees, "Original gravity"):
        raise OutOfRange("The final gravity is not below the original: exchange the two, or read again.")
    steep = _above_nothing(steepness_per_hour, "Steepness", "an hour")
    power = steep * (require_finite(hour, "Hour") - require_finite(middle_hour, "Middle"))
    # Beyond this the exponential leaves what a float can hold, and the curve has long met its end.
    share = 0.0 if power > 700.0 else 1.0 / (1.0 + exp(power))
    return final_degrees + (original_degrees - final_degrees) * share


def steady_since(readings: Sequence[tuple[float, float]], *, within_degrees: float, hours_apart: float) -> float | None:
    """The hour from which on every gravity meets one read at least so long before it; None where the last does not.

    `readings` are (hour, degrees) in order of time. Usually two readings 6 hours apart within half a degree end a
    fermentation (common practice, no source). One that goes on falling is not steady, however it stood before.
    """
    steady: float | None = None
    for place in range(len(readings) - 1, 0, -1):
        hour, degrees = readings[place]
        before = [value for when, value in readings[:place] if hour - when >= hours_apart]
        # Gravities are read to a tenth of a degree; what is finer came in with the subtraction.
        if not before or abs(before[-1] - degrees) > within_degrees + 1e-6:
            break
        steady = hour
    return steady


def washbacks_needed(*, ferment_hours: float, turnround_hours: float, mash_interval_hours: float) -> int:
    """Washbacks it takes to set one at every mash: hours a washback is held over hours between mashes, rounded up.

    84 and 6 hours at a mash every 12 hours: 8. The interval above nothing; raises OutOfRange or NegativeQuantity.
    """
    held = require_not_negative(ferment_hours, "Fermentation") + require_not_negative(turnround_hours, "Turnround")
    quotient = held / _above_nothing(mash_interval_hours, "Time between mashes", "hours")
    # What lies this little above a whole number came in with the division.
    return ceil(quotient - 1e-9)


def presumed_percent_1880(*, degrees_lost: float, proof_percent: float = 57.1) -> float:
    """Strength of wash that the Spirits Act 1880 s.46(2) presumed, % vol: a proof gallon in 100 gallons for each 5°.

    History only: 62 degrees give 7.08, some 13 % below the table of factors. Raises NegativeQuantity or OutOfRange.
    """
    gallons = require_not_negative(degrees_lost, "Gravity drop") / DEGREES_A_PROOF_GALLON
    return gallons * require_percent(proof_percent, "Proof") / 100.0


def _above_nothing(value: float, what: str, unit: str) -> float:
    if not require_not_negative(value, what):
        raise OutOfRange(f"{what} is 0 {unit}: enter a figure above nothing.")
    return value
