"""Casks in figures: what one should still hold and how strong, what a gauge says beside that, whether the figures of
a document agree with one another, and what the law asks of a large pack.

What a cask should hold is worked out in `distillery.rules.cask_loss`; here is what is said of it beside. Litres and
strengths are at 20 °C, LPA are litres of pure alcohol, shares lie between 0 and 1, years are those of a cask.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from distillery.alcoholometry.errors import (
    OutOfRange,
    require_finite,
    require_not_negative,
    require_percent,
)
from distillery.alcoholometry.strength import ETHANOL_KG_PER_M3_20
from distillery.alcoholometry.weighing import litres20_of_weighed_kg, lpa_of_weighed_kg

LITRES_A_US_GALLON: Final = 3.785411784
KILOGRAMS_A_POUND: Final = 0.45359237
# A gain of a cask beyond this many times its expanded uncertainty is held: process reference, section H.
HELD_FROM: Final = 1.5
# Figures of a document agree within what their last decimals can hide; a half of the last place at the least, and this
# share of the alcohol besides, since strengths are written to a tenth (common practice, no source).
DOCUMENT_WITHIN_SHARE: Final = 0.002
# A large pack: SI 2023/806, Schedule 1 (metered or weighed: a share of its label, and half a litre up to 100 litres;
# not metered: litres, by how much it holds).
SMALL_PACK_LITRES: Final = 10.0
MOST_PACK_LITRES: Final = 400.0
METERED_SHARE: Final = 0.005
LEAST_METERED_LITRES: Final = 0.5
NOT_METERED: Final = ((100.0, 1.0), (200.0, 2.0))
# Flash points in a closed cup by strength: the lower of two readings, engineeringtoolbox.com, ethanol and water, read
# as % vol. Between two lines that of the weaker is no help; the lower, that of the stronger, counts.
FLASH_POINTS: Final = (
    (5.0, 62.0),
    (10.0, 49.0),
    (20.0, 36.0),
    (30.0, 29.0),
    (40.0, 26.0),
    (50.0, 24.0),
    (60.0, 22.0),
    (70.0, 21.0),
    (80.0, 20.0),
    (90.0, 17.0),
    (96.0, 17.0),
    (100.0, 12.0),
)


class Gauged(StrEnum):
    """What a gauge of a cask says beside the band it was expected in."""

    WITHIN = "within its band"
    BELOW = "below its band"
    GAINED = "more than it held"
    HOLD = "far more than it held"


@dataclass(frozen=True, slots=True)
class OfDocument:
    """What a document says of a cask beside what its own litres and strength come to, in LPA."""

    stated_lpa: float
    lpa: float
    within_lpa: float

    @property
    def apart_lpa(self) -> float:
        """How much more is stated than the litres and the strength come to."""
        return self.stated_lpa - self.lpa

    @property
    def agrees(self) -> bool:
        """True where the figures can be true together."""
        return abs(self.apart_lpa) <= self.within_lpa


@dataclass(frozen=True, slots=True)
class Weighed:
    """What a cask held by its weights: litres at 20 °C and LPA."""

    litres20: float
    lpa: float


def weighed_contents(*, gross_kg: float, tare_kg: float, percent20: float, celsius: float = 20.0) -> Weighed:
    """Litres at 20 °C and LPA of what a cask holds by its weights in air, in kilograms, gross not under tare.

    Strength 0 to 100 % vol at 20 °C, liquid at `celsius` (-20 to 40). Raises AlcoholometryError. Air buoyancy and
    densities: OIML R 22; process reference, section G. Example: 163.8 kg net at 60 % are 180.4 L
    and 108.2 LPA.
    """
    net = require_finite(gross_kg, "Gross") - require_not_negative(tare_kg, "Tare")
    require_not_negative(net, "Gross less tare")
    return Weighed(
        litres20_of_weighed_kg(kilograms_in_air=net, percent20=percent20, celsius=celsius),
        lpa_of_weighed_kg(kilograms_in_air=net, percent20=percent20, celsius=celsius),
    )


def beside_document(*, litres: float, percent: float, stated_lpa: float) -> OfDocument:
    """Whether litres, strength and LPA of a document agree: LPA = litres × strength / 100, within 0.2 % or 0.1 LPA.

    Litres and LPA of 0 and more, 0 to 100 % vol. Raises AlcoholometryError. Example: 181 L at 63.5 % are 114.9 LPA; a
    document that says 115.9 does not agree (process reference, section G).
    """
    lpa = require_not_negative(litres, "Litres") * require_percent(percent, "Strength") / 100.0
    stated = require_not_negative(stated_lpa, "Litres of pure alcohol")
    return OfDocument(stated, lpa, max(0.1, DOCUMENT_WITHIN_SHARE * lpa))


def large_pack_tolerance_litres(*, pack_litres: float, metered: bool) -> float:
    """How much more than its label a large pack, of more than 10 and at most 400 litres, may hold.

    Metered or weighed: 0.5 % of the label, at least 0.5 L. Not metered: 1 L up to 100 L, 2 L up to 200 L, 3 L above.
    SI 2023/806, Schedule 1; whether a maturing cask is such a pack its definition says. Raises OutOfRange outside these
    sizes. Example: of 250 L not metered 3 L.
    """
    litres = require_not_negative(pack_litres, "Pack")
    if not SMALL_PACK_LITRES < litres <= MOST_PACK_LITRES:
        raise OutOfRange(
            f"A pack of {litres:g} litres is no large pack, which holds more than {SMALL_PACK_LITRES:g} and at most "
            f"{MOST_PACK_LITRES:g} litres."
        )
    if metered:
        return max(LEAST_METERED_LITRES, METERED_SHARE * litres)
    return next((allowed for most, allowed in NOT_METERED if litres <= most), 3.0)


def strength_at_age(*, percent: float, lpa_share: float, bulk_share: float, years: float) -> float:
    """Strength, % vol, after years in which these shares of alcohol and of bulk are lost in each, compounded.

    A(t) = A0 × ((1 − a) / (1 − b))^t (process reference, section H); shares from 0 to under 1, years of 0 and more.
    Raises AlcoholometryError. Example: 63.5 % after ten years at 2.0 % of alcohol and 1.6 % of bulk is 61.0 %.
    """
    for share, what in ((lpa_share, "Share of alcohol"), (bulk_share, "Share of bulk")):
        if not 0.0 <= require_finite(share, what) < 1.0:
            raise OutOfRange(f"{what} lost in a year is {share:g}: it lies from 0 to under 1.")
    kept: float = ((1.0 - lpa_share) / (1.0 - bulk_share)) ** require_not_negative(years, "Years")
    return require_percent(percent, "Strength") * kept


def beside_band(*, lpa: float, least_lpa: float, held_lpa: float, u95_lpa: float) -> Gauged:
    """What a gauge says beside the least that was expected and what was held before, in LPA.

    `u95_lpa` is the expanded uncertainty (k = 2) of the difference. Below least − U95 a leak is looked for; a cask
    cannot gain, so more than U95 above what it held is measured again and beyond 1.5 U95 held (process reference,
    section H). Raises AlcoholometryError. Example: 90.0 where 93.65 is the least and U95 is 0.5 lies below its band.
    """
    doubt = require_not_negative(u95_lpa, "Uncertainty")
    gain = require_not_negative(lpa, "Gauge") - require_not_negative(held_lpa, "Held before")
    if gain > HELD_FROM * doubt:
        return Gauged.HOLD
    if gain > doubt:
        return Gauged.GAINED
    return Gauged.BELOW if lpa < require_not_negative(least_lpa, "Least expected") - doubt else Gauged.WITHIN


def ethanol_lost_pounds_a_year(*, us_gallons: float, percent: float, share: float) -> float:
    """Pounds of ethanol that a cask of so many US gallons at a strength loses in a year at a share (0 to 1) of it.

    Example: 50 gallons at 60 % and 2.5 % a year lose 4.94 lb (BAAQMD prints 4.96). Raises AlcoholometryError.
    """
    if not 0.0 <= require_finite(share, "Share") <= 1.0:
        raise OutOfRange(f"The share lost in a year is {share:g}: it lies from 0 to 1.")
    litres = require_not_negative(us_gallons, "US gallons") * LITRES_A_US_GALLON
    kilograms = litres * require_percent(percent, "Strength") / 100.0 * ETHANOL_KG_PER_M3_20 / 1000.0
    return kilograms * share / KILOGRAMS_A_POUND


def flash_point_celsius(percent: float) -> float | None:
    """The flash point, °C in a closed cup, of spirit of a strength: that of the next line at or above it in the table.

    0 to 100 % vol; None at no alcohol. Raises AlcoholometryError. Example: 26 °C at 40 % (engineeringtoolbox.com). For
    a caution alone: the site's assessment of ignition goes by the supplier's sheet.
    """
    if require_percent(percent, "Strength") <= 0.0:
        return None
    strengths = [strength for strength, _ in FLASH_POINTS]
    place = bisect_right(strengths, percent)
    exact = place > 0 and strengths[place - 1] == percent
    return FLASH_POINTS[place - 1 if exact else min(place, len(FLASH_POINTS) - 1)][1]
