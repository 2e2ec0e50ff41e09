"""Reducing, blending and topping up: alcohol and mass add, bulk litres do not.

Water and spirit contract on mixing, so a strength or a water volume found by proportion of volumes is wrong; every
result here comes from mass and alcohol by OIML R 22:1975. All litres and strengths are at 20 °C, masses are true masses
(water weighed in air shows 0.11 % less). The exact bookkeeping of stored whole numbers is in ``contents``.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from math import fsum

from .errors import CannotReach, OutOfRange, require_finite, require_not_negative, require_percent
from .formula import isotherm
from .strength import (
    ETHANOL_KG_PER_M3_20,
    REFERENCE_CELSIUS,
    VacuumDensity,
    density20_of_percent,
    mass_fraction_of_percent_vol,
    percent_vol_of_mass_fraction,
)
from .volume import factor_to_20
from .weighing import kilograms_in_air

WATER_20_KG_PER_M3 = density20_of_percent(0.0).kg_per_m3


@dataclass(frozen=True, slots=True)
class Part:
    """So many litres at 20 °C of such a strength in % vol at 20 °C; raises NegativeQuantity, OutOfRange, NotANumber."""

    litres20: float
    percent20: float

    def __post_init__(self) -> None:
        require_not_negative(self.litres20, "Volume")
        require_percent(self.percent20, "Strength")

    @property
    def kilograms(self) -> float:
        """True mass, kg."""
        return self.litres20 * density20_of_percent(self.percent20).kg_per_m3 / 1000.0

    @property
    def lpa(self) -> float:
        """Litres of pure alcohol."""
        return self.litres20 * self.percent20 / 100.0


@dataclass(frozen=True, slots=True)
class Blend:
    """What parts become: bulk, strength, true mass, alcohol, and the litres that vanish by contraction (not a loss)."""

    litres20: float
    percent20: float
    kilograms: float
    lpa: float
    contraction_litres20: float

    @property
    def density20(self) -> VacuumDensity:
        """Density in vacuum at 20 °C."""
        return density20_of_percent(self.percent20)


@dataclass(frozen=True, slots=True)
class Reduction:
    """Water to add and what comes of it; ``water_kilograms`` is true mass."""

    water_kilograms: float
    water_litres20: float
    litres20: float
    percent20: float
    contraction_litres20: float

    @property
    def water_kilograms_in_air(self) -> float:
        """What a scale should show for the water."""
        return kilograms_in_air(true_kilograms=self.water_kilograms, percent20=0.0)

    def water_litres(self, celsius: float) -> float:
        """Litres of the water as metered at ``celsius`` (-20 to 40); raises OutOfRange or NotANumber."""
        return self.water_kilograms / isotherm(celsius).water * 1000.0


def blend(parts: Iterable[Part]) -> Blend:
    """Any number of parts mixed; the same whatever their order. Raises CannotReach when there is nothing to mix."""
    poured = tuple(parts)
    kilograms = fsum(part.kilograms for part in poured)
    lpa = fsum(part.lpa for part in poured)
    if kilograms == 0.0:
        raise CannotReach("There is nothing to mix: give at least one part with a volume.")
    # Neat alcohol divided by itself may exceed one in the last digit.
    mass_fraction = min(1.0, lpa * ETHANOL_KG_PER_M3_20 / 1000.0 / kilograms)
    litres20 = kilograms / isotherm(REFERENCE_CELSIUS).density(mass_fraction) * 1000.0
    return Blend(
        litres20=litres20,
        percent20=percent_vol_of_mass_fraction(mass_fraction),
        kilograms=kilograms,
        lpa=lpa,
        contraction_litres20=fsum(part.litres20 for part in poured) - litres20,
    )


def reduce_to_strength(start: Part, *, target_percent: float) -> Reduction:
    """Water that brings ``start`` down to ``target_percent``; raises CannotReach for a target above it or at zero."""
    require_percent(target_percent, "Target strength")
    if target_percent > start.percent20 or target_percent == 0:
        raise CannotReach(
            f"Water cannot bring {start.percent20:g} % vol to {target_percent:g} % vol: choose a target above 0 and "
            "not above the present strength, or add stronger spirit."
        )
    water_kilograms = start.kilograms * _excess(
        mass_fraction_of_percent_vol(start.percent20) / mass_fraction_of_percent_vol(target_percent), 1.0
    )
    return _reduction(start, water_kilograms, target_percent)


def reduce_to_volume(start: Part, *, final_litres20: float) -> Reduction:
    """Water that fills ``start`` up to a final bulk at 20 °C; raises CannotReach for less than is there."""
    require_not_negative(final_litres20, "Final volume")
    if final_litres20 < start.litres20 or final_litres20 == 0:
        raise CannotReach(f"Water added to {start.litres20:g} L cannot leave {final_litres20:g} L: it must be more.")
    target = start.percent20 * start.litres20 / final_litres20
    added = _excess(Part(final_litres20, target).kilograms, start.kilograms)
    return _reduction(start, added, target)


def reduce_to_capacity(start: Part, *, capacity_litres: float, celsius: float) -> Reduction:
    """Water that fills the vessel holding ``start`` to ``capacity_litres`` when all is at ``celsius`` (-20 to 40).

    Raises CannotReach when the spirit alone overfills it, OutOfRange or NotANumber.
    """
    require_not_negative(capacity_litres, "Capacity")
    if start.litres20 > capacity_litres * factor_to_20(percent20=start.percent20, celsius=celsius):
        raise CannotReach(
            f"The vessel holds {capacity_litres:g} L, less than the spirit alone at {celsius:g} °C: use a larger one."
        )
    low, high = 0.0, start.percent20
    # Alcohol held by the full vessel rises with strength, so halving finds the strength the alcohol present allows.
    while (middle := 0.5 * (low + high)) not in (low, high):
        held = capacity_litres * factor_to_20(percent20=middle, celsius=celsius) * middle / 100.0
        low, high = (middle, high) if held < start.lpa else (low, middle)
    final = capacity_litres * factor_to_20(percent20=high, celsius=celsius)
    return reduce_to_volume(start, final_litres20=max(final, start.litres20))


def reduce_with_water(start: Part, *, water_kilograms: float) -> Reduction:
    """What a known true mass of water makes of ``start``; raises NegativeQuantity, NotANumber or CannotReach."""
    require_not_negative(water_kilograms, "Water")
    litres = water_kilograms / WATER_20_KG_PER_M3 * 1000.0
    return _reduction(start, water_kilograms, blend((start, Part(litres, 0.0))).percent20)


@dataclass(frozen=True, slots=True)
class TwoStages:
    """Reduction in two stages: this much water first, mix, gauge again; then trim from the new gauge.

    ``expected`` is what the gauge after the first addition should show.
    """

    whole: Reduction
    first: Reduction

    @property
    def expected(self) -> Part:
        """Bulk and strength to look for at the gauge between the stages."""
        return Part(self.first.litres20, self.first.percent20)

    @property
    def left_kilograms(self) -> float:
        """Water kept back by the plan, kg; the trim after the gauge replaces it."""
        return self.whole.water_kilograms - self.first.water_kilograms


def reduce_in_two_stages(start: Part, *, target_percent: float, first_share: float = 0.95) -> TwoStages:
    """Under-add, mix, gauge again, trim (common practice, no source): ``first_share`` of the water goes in first.

    The trim is reduce_to_strength on the new gauge. Raises OutOfRange for a share outside 0 to 1, and CannotReach.
    """
    if not 0.0 < require_finite(first_share, "First share") < 1.0:
        raise OutOfRange(f"A first share of {first_share:g} leaves nothing to trim: choose one between 0 and 1.")
    whole = reduce_to_strength(start, target_percent=target_percent)
    return TwoStages(whole, reduce_with_water(start, water_kilograms=first_share * whole.water_kilograms))


def addition_to_reach(start: Part, *, added_percent: float, target_percent: float) -> Part:
    """How much of a liquid of ``added_percent`` (0 for water) brings ``start`` to ``target_percent``, up or down.

    Raises CannotReach unless the target lies between the two strengths and is not the added one.
    """
    require_percent(target_percent, "Target strength")
    require_percent(added_percent, "Strength of the addition")
    if target_percent == start.percent20 or start.litres20 == 0:
        return Part(0.0, added_percent)
    if not (start.percent20 < target_percent < added_percent or added_percent < target_percent < start.percent20):
        raise CannotReach(
            f"{added_percent:g} % vol added to {start.percent20:g} % vol cannot make {target_percent:g} % vol: "
            "the target must lie between the two."
        )
    have, wanted, add = (
        mass_fraction_of_percent_vol(percent) for percent in (start.percent20, target_percent, added_percent)
    )
    if add == wanted:
        raise CannotReach(f"No amount of {added_percent:g} % vol is enough to reach {target_percent:g} % vol itself.")
    kilograms = start.kilograms * abs(wanted - have) / abs(add - wanted)
    return Part(kilograms / density20_of_percent(added_percent).kg_per_m3 * 1000.0, added_percent)


def parts_for(*, strong_percent: float, weak_percent: float, target: Part) -> tuple[Part, Part]:
    """How much strong and how much weak (0 for water) liquid make ``target``; raises CannotReach.

    With the target's bulk set to what a vessel holds, this answers how much spirit and water fill it.
    """
    if not weak_percent <= target.percent20 <= strong_percent or strong_percent - weak_percent < 1e-9:
        raise CannotReach(
            f"{strong_percent:g} and {weak_percent:g} % vol cannot make {target.percent20:g} % vol: "
            "the target must lie between them, and they must differ."
        )
    strong, weak, wanted = (
        mass_fraction_of_percent_vol(percent) for percent in (strong_percent, weak_percent, target.percent20)
    )
    of_strong = target.kilograms * _excess(wanted, weak) / (strong - weak)
    of_weak = target.kilograms * _excess(strong, wanted) / (strong - weak)
    return (
        Part(of_strong / density20_of_percent(strong_percent).kg_per_m3 * 1000.0, strong_percent),
        Part(of_weak / density20_of_percent(weak_percent).kg_per_m3 * 1000.0, weak_percent),
    )


def _excess(more: float, less: float) -> float:
    """``more − less`` of two figures known to be in that order, where solving may have turned the last digit round."""
    return more - less if more > less else 0.0


def _reduction(start: Part, water_kilograms: float, percent20: float) -> Reduction:
    water_litres20 = water_kilograms / WATER_20_KG_PER_M3 * 1000.0
    litres20 = (start.kilograms + water_kilograms) / density20_of_percent(percent20).kg_per_m3 * 1000.0
    return Reduction(
        water_kilograms=water_kilograms,
        water_litres20=water_litres20,
        litres20=litres20,
        percent20=percent20,
        contraction_litres20=start.litres20 + water_litres20 - litres20,
    )
