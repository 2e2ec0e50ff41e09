"""Sums of a spirit vat: what the next reduction wants, whether a vat is mixed, what vatting makes of parts.

Everything comes from mass and alcohol by `distillery.alcoholometry.mixing`; volumes contract and are never added up.
Litres and strengths are at 20 °C, water is weighed in air. Refusals are those of `distillery.alcoholometry.errors`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from distillery.alcoholometry.errors import CannotReach, require_not_negative, require_percent
from distillery.alcoholometry.mixing import Part, Reduction, reduce_to_strength, reduce_with_water

NEXT_TO_NOTHING: Final = 1e-9


@dataclass(frozen=True, slots=True)
class Wanted:
    """One reduction: its target in % vol, the water it wants, what is there after it."""

    target_percent: float
    water: Reduction

    @property
    def water_kilograms_in_air(self) -> float:
        """What a scale should show for its water."""
        return self.water.water_kilograms_in_air


def reductions(start: Part, targets: Sequence[float]) -> tuple[Wanted, ...]:
    """One reduction after another, each target lower than the one before: what each wants as long as nothing is lost.

    1,000 L at 71.2 to 63.5 wants 127.87 kg (true mass) and comes to 1,121.26 L. However many there are, the water
    comes to the same. Raises CannotReach for a target above what is there, OutOfRange.
    """
    found, there = [], start
    for target in targets:
        water = reduce_to_strength(there, target_percent=target)
        found.append(Wanted(target, water))
        there = Part(water.litres20, water.percent20)
    return tuple(found)


def mixing_says(start: Part, *, water_kilograms: float) -> Reduction:
    """What so much water (true mass, kg) makes of what is there: bulk and strength to look for. Refusals as mixing."""
    return reduce_with_water(start, water_kilograms=water_kilograms)


def is_mixed(percents: Sequence[float], *, apart_percent: float) -> bool:
    """True where strengths of one vat, % vol at 20 °C, lie within so much of each other: 63.5 and 63.6 within 0.1.

    Two or more are wanted; raises CannotReach for fewer, OutOfRange.
    """
    if len(percents) < 2:
        raise CannotReach("One strength does not say whether a vat is mixed: take two, from top and bottom.")
    held = [require_percent(one, "Strength") for one in percents]
    return max(held) - min(held) <= require_not_negative(apart_percent, "Distance") + NEXT_TO_NOTHING


def known_loss_lpa(*, litres_in: float, litres_out: float, percent20: float) -> float:
    """What a filter kept by its own meters, LPA: litres at 20 °C in and out, at the strength of what went through.

    1,000 L in and 997 out at 46.0 are 1.38. Below nothing where more came out; raises NegativeQuantity, OutOfRange.
    """
    gone = require_not_negative(litres_in, "Litres in") - require_not_negative(litres_out, "Litres out")
    return gone * require_percent(percent20, "Strength") / 100.0


def evaporated_percent_a_day(*, before_lpa: float, after_lpa: float, days: float) -> float:
    """What a vat lost as it stood, % of its LPA a day, counted evenly: 500 to 499 LPA in 10 days is 0.02.

    Below nothing where it gained. Raises CannotReach for no contents or no time, NegativeQuantity.
    """
    before, after = require_not_negative(before_lpa, "Before"), require_not_negative(after_lpa, "After")
    if before == 0.0 or require_not_negative(days, "Days") == 0.0:
        raise CannotReach("A vat that was empty, or stood for no time, lost nothing a day: check its two gauges.")
    return 100.0 * (before - after) / before / days
