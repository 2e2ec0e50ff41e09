"""Gin in figures: botanicals for a charge, their parts by basket, the load at still strength, and how even baskets are.

A recipe says grams of each botanical for each litre of pure alcohol (LPA) of the charge, so that a charge of any
strength is flavoured alike. Published loads are grams for each litre at still strength instead: 20 to 35 g/L
(theginisin.com). Litres are at 20 °C, strengths % vol at 20 °C.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from distillery.alcoholometry.errors import OutOfRange, require_finite, require_not_negative, require_percent

# A basket may lie so far from the mean of all before it is looked into: common practice, no source.
IMBALANCE_PERCENT: Final = 2.0
# Shares of a recipe given in percent add up to a hundred within this: common practice, no source.
SHARES_WITHIN_PERCENT: Final = 0.1


@dataclass(frozen=True, slots=True)
class Basket:
    """One basket among several: its place counted from 1, kilograms in it, and how far that lies from their mean."""

    place: int
    kilograms: float
    percent_of_mean: float

    @property
    def is_even(self) -> bool:
        """True where it lies within IMBALANCE_PERCENT of the mean."""
        return abs(self.percent_of_mean) <= IMBALANCE_PERCENT


def charge_lpa(*, litres: float, percent: float) -> float:
    """Litres of pure alcohol in a charge: litres × strength / 100 (0 litres and more, 0 to 100 % vol).

    Raises AlcoholometryError. Example: 500 L at 50 % hold 250 LPA.
    """
    return require_not_negative(litres, "Charge") * require_percent(percent, "Strength of the charge") / 100.0


def botanical_kilograms(*, grams_per_lpa: float, lpa: float) -> float:
    """Kilograms of a botanical, or of all, for a charge: r × LPA / 1000 (process reference, section F).

    Grams for each LPA and LPA of 0 and more. Raises AlcoholometryError. Example: 48 g/LPA with 250 LPA are 12.000 kg.
    """
    grams = require_not_negative(grams_per_lpa, "Weight for each litre of pure alcohol")
    return grams * require_not_negative(lpa, "Pure alcohol of the charge") / 1000.0


def kilograms_per_basket(*, kilograms: float, baskets: int) -> float:
    """Kilograms in each of equal baskets, of which there is at least one.

    Raises AlcoholometryError. Example: 12 kg in 4 baskets are 3.000 kg each. Equal parts: common practice, no source.
    """
    if baskets < 1:
        raise OutOfRange(f"{baskets} baskets hold nothing: there is at least one.")
    return require_not_negative(kilograms, "Weight of the botanicals") / baskets


def grams_a_litre(*, kilograms: float, litres: float) -> float:
    """Grams of botanicals for each litre of the charge at its strength in the still; usually 20 to 35 (theginisin.com).

    Raises OutOfRange for no litres. Example: 12 kg in 500 L are 24 g/L.
    """
    return 1000.0 * require_not_negative(kilograms, "Weight of the botanicals") / _charged(litres, "litres")


def baskets_beside_their_mean(kilograms: Sequence[float]) -> list[Basket]:
    """Each basket beside the mean of all: 100 × (weight − mean) / mean. At least one, and something in them.

    Raises AlcoholometryError. Example: of 3.00, 3.02, 2.98 and 2.90 kg the fourth lies 2.52 % below their mean.
    """
    weights = [require_not_negative(one, f"Weight of basket {place}") for place, one in enumerate(kilograms, start=1)]
    mean = _something(weights, "baskets") / len(weights)
    return [Basket(place, one, 100.0 * (one - mean) / mean) for place, one in enumerate(weights, start=1)]


def recipe_parts(grams_per_lpa: Sequence[float]) -> list[float]:
    """The share of each botanical in a recipe, in percent; they sum to a hundred. At least one above nothing.

    Raises AlcoholometryError. Example: 20 and 5 g/LPA are 80 and 20 %.
    """
    weights = [require_not_negative(one, "Weight for each litre of pure alcohol") for one in grams_per_lpa]
    whole = _something(weights, "recipe")
    return [100.0 * one / whole for one in weights]


def shares_sum_to_whole(percents: Sequence[float]) -> bool:
    """True where shares in percent sum to 100 ± 0.1 (process reference, section F: common practice, no source)."""
    whole = math.fsum(require_finite(one, "Share") for one in percents)
    return abs(whole - 100.0) <= SHARES_WITHIN_PERCENT + 1e-9


def cut_share(*, litres: float, charge_litres: float) -> float:
    """A cut as a percentage of the charge's volume: heads are usually 0.5 to 2 % (common practice, no source).

    Raises OutOfRange for a charge of nothing. Example: 5 L of heads from 500 L are 1 %.
    """
    return 100.0 * require_not_negative(litres, "Cut") / _charged(charge_litres, "litres")


def recovery_percent(
    *, charged_lpa: float, heads_lpa: float, hearts_lpa: float, tails_lpa: float, left_lpa: float
) -> float:
    """What came out of a charge in all its parts, in percent of it: below 97 or above 101 is looked into (process
    reference, section F: common practice, no source).

    Raises OutOfRange for a charge of nothing. Example: 2 + 225 + 18 + 2 of 250 LPA are 98.8 %.
    """
    parts = {"Heads": heads_lpa, "Hearts": hearts_lpa, "Tails": tails_lpa, "What was left": left_lpa}
    out = math.fsum(require_not_negative(one, name) for name, one in parts.items())
    return 100.0 * out / _charged(charged_lpa, "litres of pure alcohol")


def _charged(figure: float, what: str) -> float:
    if require_not_negative(figure, "Charge") == 0:
        raise OutOfRange(f"A charge of 0 {what} has no shares: write what was charged.")
    return figure


def _something(weights: Sequence[float], of: str) -> float:
    whole = math.fsum(weights)
    if whole <= 0:
        raise OutOfRange(f"There is nothing in the {of}: write what was weighed.")
    return whole
