"""Sums of the mash: strike water, extract collected, efficiency, water and draff.

Units stand in the names. Degrees are 1000 × (relative density − 1) at 20 °C. Whatever is not a number, below nothing or
beyond its range raises an AlcoholometryError whose sentence says what to do. Published figures beside each function are
those of its test.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from distillery.alcoholometry.errors import OutOfRange, require_finite, require_not_negative, require_percent
from distillery.alcoholometry.wort import litre_degrees_of_extract_percent

# Heat that grist takes up for each kelvin, as a share of that of as much water (Lewis and Young, Brewing, 2001).
HEAT_OF_GRIST: Final = 0.4
# Common practice, no source.
DRAFF_MOISTURE_PERCENT: Final = 78.0
COLDEST_GRIST: Final = -20.0
MOST_DEGREES: Final = 300.0


@dataclass(frozen=True, slots=True)
class Running:
    """Wort or weak wort of one gravity: litres at 20 °C and degrees at 20 °C, -20 to 300."""

    litres: float
    degrees: float

    @property
    def litre_degrees(self) -> float:
        """Extract it holds, litre-degrees; raises NegativeQuantity, NotANumber or OutOfRange."""
        if not -20.0 <= require_finite(self.degrees, "Degrees") <= MOST_DEGREES:
            raise OutOfRange(f"{self.degrees:g} degrees is no gravity of wort: enter 60 for a relative density 1.060.")
        return require_not_negative(self.litres, "Wort") * self.degrees


class Reached(StrEnum):
    """What an extract efficiency says. None of them is praise: above `too much` a reading is wrong."""

    USUAL = "usual"
    LOW = "low"
    VERY_LOW = "very low"
    TOO_MUCH = "too much"


def strike_water_celsius(
    *,
    mash_celsius: float,
    grist_celsius: float,
    litres_per_kg: float,
    heat_of_grist: float = HEAT_OF_GRIST,
    site_offset_celsius: float = 0.0,
) -> float:
    """Temperature the first water needs, °C: ``Tm + (c/R)(Tm − Tg)`` and what the site has found to be missing.

    Grist -20 to 60 °C, mash above the grist and up to 100 °C, 0.5 to 20 litres a kg; the offset is the site's own, from
    its records (the heat of wetting of dry malt is in it). Lewis and Young, Brewing, 2001: 64 °C from grist of 15 °C at
    4 L/kg takes 68.9 °C (156 °F as published). Raises OutOfRange, also where the water would have to be above 100 °C.
    """
    ratio, grist = _ratio(litres_per_kg), _grist(grist_celsius)
    if not grist <= require_finite(mash_celsius, "Temperature of the mash") <= 100.0:
        raise OutOfRange(f"A mash of {mash_celsius:g} °C is not between its grist and 100 °C: check both temperatures.")
    heat = require_not_negative(heat_of_grist, "Heat of the grist")
    offset = require_finite(site_offset_celsius, "Offset of the site")
    water = mash_celsius + heat / ratio * (mash_celsius - grist) + offset
    if not 0.0 <= water <= 100.0:
        raise OutOfRange(
            f"The water would have to be at {water:.1f} °C: take more water a kg, or a lower temperature of the mash."
        )
    return water


def mixed_celsius(
    *, water_celsius: float, grist_celsius: float, litres_per_kg: float, heat_of_grist: float = HEAT_OF_GRIST
) -> float:
    """Temperature that water and grist come to together, °C; the inverse of strike_water_celsius, same ranges.

    68.889 °C on grist of 15 °C at 4 L/kg comes to 63.99 °C (published 147 to 148 °F).
    """
    ratio, grist = _ratio(litres_per_kg), _grist(grist_celsius)
    if not 0.0 <= require_finite(water_celsius, "Temperature of the water") <= 100.0:
        raise OutOfRange(f"Water of {water_celsius:g} °C is not between 0 and 100 °C: check the reading.")
    share = require_not_negative(heat_of_grist, "Heat of the grist") / ratio
    return (water_celsius + share * grist) / (1.0 + share)


def extract_litre_degrees_per_kg(
    *,
    worts: Iterable[Running],
    grist_kg: float,
    carried_out: Iterable[Running] = (),
    carried_in: Iterable[Running] = (),
) -> float:
    """Extract collected of a mash, L°/kg: worts, and weak worts left for the next mash less those of the last.

    24,000 L at 60° of 5,000 kg are 288 L°/kg. Grist above nothing; raises OutOfRange or NegativeQuantity.
    """
    collected = sum(one.litre_degrees for one in worts)
    carried = sum(one.litre_degrees for one in carried_out) - sum(one.litre_degrees for one in carried_in)
    return (collected + carried) / _weight(grist_kg)


def extract_efficiency_percent(*, litre_degrees_per_kg: float, laboratory_extract_percent: float) -> float:
    """Extract collected of what the laboratory found in the malt as it is, %.

    288 L°/kg of a 77 % malt are 96.9 %. The extract of the laboratory above 0, as is and not dry; raises OutOfRange.
    """
    if not require_percent(laboratory_extract_percent, "Extract by the laboratory"):
        raise OutOfRange("The laboratory's extract is 0 %: enter that of the certificate, as is.")
    collected = require_not_negative(litre_degrees_per_kg, "Extract collected")
    return 100.0 * collected / litre_degrees_of_extract_percent(laboratory_extract_percent)


def efficiency_reached(
    percent: float, *, low_percent: float, very_low_percent: float, too_much_percent: float
) -> Reached:
    """What an extract efficiency says, by thresholds of the site's (usually 95, 93 and 101 %: common practice).

    More than the laboratory found is never good: a volume, a gravity or a weight is wrong. Raises NotANumber.
    """
    if require_finite(percent, "Extract efficiency") > too_much_percent:
        return Reached.TOO_MUCH
    if percent < very_low_percent:
        return Reached.VERY_LOW
    return Reached.LOW if percent < low_percent else Reached.USUAL


def draff_kg(
    *,
    grist_kg: float,
    moisture_percent: float,
    extract_percent: float,
    draff_moisture_percent: float = DRAFF_MOISTURE_PERCENT,
) -> float:
    """Weight of the drained grains, kg: dry grist less extract, with the water that stays in them.

    5,000 kg of 4.5 % moisture with 74.6 % extracted give 4,750 kg at 78 % moisture (common practice, no source;
    computed). Raises OutOfRange where more is extracted than is dry, or where the draff would be all water.
    """
    dry = _weight(grist_kg) * (100.0 - require_percent(moisture_percent, "Moisture of the malt")) / 100.0
    left = dry - grist_kg * require_percent(extract_percent, "Extract") / 100.0
    if left < 0:
        raise OutOfRange(f"An extract of {extract_percent:g} % is more than the dry grist: check weight and gravity.")
    return left / _dry_share(draff_moisture_percent)


def water_held_litres(
    *,
    grist_kg: float,
    moisture_percent: float,
    extract_percent: float,
    draff_moisture_percent: float = DRAFF_MOISTURE_PERCENT,
) -> float:
    """Water that stays in the draff, litres at 1 kg a litre; as draff_kg, of which it is the moisture (3,700 L)."""
    return (
        draff_kg(
            grist_kg=grist_kg,
            moisture_percent=moisture_percent,
            extract_percent=extract_percent,
            draff_moisture_percent=draff_moisture_percent,
        )
        * draff_moisture_percent
        / 100.0
    )


def water_gap_percent(
    *, water_litres: float, worts_litres: float, held_litres: float, weak_in_litres: float = 0.0
) -> float:
    """Water that is not found again, % of all that was put on; below nothing where more came off than went on.

    ``waters + weak worts in − worts and weak worts out − what the draff holds``. Water put on above nothing; raises
    OutOfRange or NegativeQuantity. A gap above 3 % is a meter that is wrong, or a leak (common practice, no source).
    """
    put_on = require_not_negative(water_litres, "Water") + require_not_negative(weak_in_litres, "Weak worts in")
    if not put_on:
        raise OutOfRange("No water is written: enter the litres of each water.")
    came_off = require_not_negative(worts_litres, "Worts") + require_not_negative(held_litres, "Water in the draff")
    return 100.0 * (put_on - came_off) / put_on


def _ratio(litres_per_kg: float) -> float:
    if not 0.5 <= require_finite(litres_per_kg, "Water a kg of grist") <= 20.0:
        raise OutOfRange(f"{litres_per_kg:g} litres a kg is no mash: check the water and the grist (about 4 L/kg).")
    return litres_per_kg


def _grist(celsius: float) -> float:
    if not COLDEST_GRIST <= require_finite(celsius, "Temperature of the grist") <= 60.0:
        raise OutOfRange(f"Grist of {celsius:g} °C is not between -20 and 60 °C: check the reading.")
    return celsius


def _weight(grist_kg: float) -> float:
    if not require_not_negative(grist_kg, "Grist"):
        raise OutOfRange("The grist weighs 0 kg: enter the weight of the mash.")
    return grist_kg


def _dry_share(moisture_percent: float) -> float:
    dry = 1.0 - require_percent(moisture_percent, "Moisture of the draff") / 100.0
    if not dry:
        raise OutOfRange("Draff of 100 % moisture has no grains in it: enter its moisture, about 78 %.")
    return dry
