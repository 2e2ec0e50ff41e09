"""Sums of malt before the mash: what a load weighs, what several lots in a silo come to, the sieve test, the grist.

Units stand in the names. Fermentable extract, predicted spirit yield and the two bases of an extract stand with the
other sums of extract in `distillery.alcoholometry.wort`. Whatever is not a number, below nothing or beyond its range
raises an AlcoholometryError whose sentence says what to do. Published figures beside each function are those of its
test.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from distillery.alcoholometry.errors import OutOfRange, require_not_negative, require_percent

# Common practice, no source: how far the three parts of a sieve test may be from the whole, in points.
WHOLE_PERCENT: Final = 100.0
SIEVE_SUM_TOLERANCE: Final = 0.5
# The usual parts with their tolerances, % by mass, and the edges of flour (common practice, no source).
USUAL_SIEVE: Final = {"husk": (20.0, 2.0), "grits": (70.0, 3.0), "flour": (10.0, 2.0)}
MOST_FLOUR_PERCENT: Final = 13.0
LEAST_FLOUR_PERCENT: Final = 7.0
# Common practice, no source: how far the grist may be from what was asked for.
GRIST_TOLERANCE_PERCENT: Final = 1.0
# Floats of sums of tenths: a part in a million of a point is no difference.
HAIR: Final = 1e-6


class Flag(StrEnum):
    """What a sieve test shows that should be looked at."""

    SUM = "the parts do not make the whole"
    MUCH_FLOUR = "the mash may set"
    LITTLE_FLOUR = "the extract is low"
    HUSK = "husk is off its usual"
    GRITS = "grits are off their usual"
    FLOUR = "flour is off its usual"


@dataclass(frozen=True, slots=True)
class Portion:
    """A mass of malt and one figure of it: kilograms, and a share in % or a yield in LPA a tonne."""

    kilograms: float
    figure: float


def net_kilograms(*, gross_kilograms: float, tare_kilograms: float) -> float:
    """What a load weighs, kg: the lorry full less the lorry empty. Raises OutOfRange where the tare is the larger,
    NegativeQuantity or NotANumber. 44,000 less 15,980 is 28,020 kg.
    """
    gross = require_not_negative(gross_kilograms, "Gross weight")
    tare = require_not_negative(tare_kilograms, "Tare")
    if tare >= gross:
        raise OutOfRange(f"The lorry weighs {gross:g} kg full and {tare:g} kg empty: the two are changed about.")
    return gross - tare


def blended(portions: Iterable[Portion]) -> float:
    """A figure of several lots together, weighted by mass: predicted spirit yield, moisture or nitrogen.

    Raises OutOfRange where nothing weighs anything, NegativeQuantity or NotANumber. 20,000 kg at 408 and 12,000 kg at
    412.8 LPA a tonne are 409.8.
    """
    lots = list(portions)
    whole = sum(require_not_negative(one.kilograms, "Weight of a lot") for one in lots)
    if not whole:
        raise OutOfRange("No lot weighs anything: enter the kilograms of each.")
    return sum(one.kilograms * require_not_negative(one.figure, "Figure of a lot") for one in lots) / whole


def expected_lpa(*, grist_kilograms: float, lpa_per_tonne: float) -> float:
    """What a grist should give, LPA: tonnes × predicted spirit yield, which allows for process losses already.

    Raises NegativeQuantity or NotANumber. 5,000 kg at 405.96 LPA a tonne should give 2,029.8 LPA.
    """
    tonnes = require_not_negative(grist_kilograms, "Grist") / 1000.0
    return tonnes * require_not_negative(lpa_per_tonne, "Predicted spirit yield")


def sieve_flags(*, husk_percent: float, grits_percent: float, flour_percent: float) -> list[Flag]:
    """What a sieve test of three parts shows, in % by mass, 0 to 100 each; nothing where all is usual.

    A test whose parts do not make the whole says nothing of its flour. Raises OutOfRange or NotANumber. 20, 70, 10 is
    accepted; 18, 27, 12 comes to 57; 19, 67, 14 has too much flour.
    """
    parts = {"husk": husk_percent, "grits": grits_percent, "flour": flour_percent}
    for name, part in parts.items():
        require_percent(part, name.capitalize())
    if not makes_the_whole(list(parts.values())):
        return [Flag.SUM]
    flags = [
        Flag[name.upper()] for name, (usual, within) in USUAL_SIEVE.items() if abs(parts[name] - usual) > within + HAIR
    ]
    if flour_percent > MOST_FLOUR_PERCENT:
        flags.append(Flag.MUCH_FLOUR)
    if flour_percent < LEAST_FLOUR_PERCENT:
        flags.append(Flag.LITTLE_FLOUR)
    return flags


def makes_the_whole(parts_percent: Sequence[float]) -> bool:
    """True where the parts of a sieve test, % by mass, come to 100 within half a point (common practice, no source)."""
    return abs(sum(parts_percent) - WHOLE_PERCENT) <= SIEVE_SUM_TOLERANCE + HAIR


def off_target_percent(*, kilograms: float, target_kilograms: float) -> float:
    """How far a weight is from what was asked for, % of that; above nothing is too much.

    Raises OutOfRange where nothing was asked for, NegativeQuantity or NotANumber. 5,060 kg for 5,000 is 1.2 % over.
    """
    target = require_not_negative(target_kilograms, "Target")
    if not target:
        raise OutOfRange("Nothing was asked for: enter the target in kilograms.")
    return 100.0 * (require_not_negative(kilograms, "Weight") - target) / target


def variance_percent(*, book_kilograms: float, throughput_kilograms: float) -> float:
    """What a silo's book still holds when the silo is empty, % of what went through it since it was empty last.

    Above nothing, malt is missing; below, more was drawn than came. Raises OutOfRange where nothing went through,
    NegativeQuantity or NotANumber. 300 kg of 28,000 are 1.07 %.
    """
    through = require_not_negative(throughput_kilograms, "Throughput")
    if not through:
        raise OutOfRange("Nothing went through the silo: there is nothing to compare its book with.")
    return 100.0 * book_kilograms / through
