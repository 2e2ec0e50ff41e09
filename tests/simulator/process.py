"""What happens in a washback and in a still: pure functions from what went in to where it went.

Alcohol and mass are both conserved in every one of them: the parts of an outcome add up to the charge. Stills are
heated without adding water; what leaks away at a still leaves with the strength of its distillate.
"""

from dataclasses import dataclass

import numpy as np

from .habits import Habits
from .instruments import percent_by_attenuation
from .liquid import Liquid


def _about(rng: np.random.Generator, mean: float, relative: float) -> float:
    return mean * (1.0 + relative * float(np.clip(rng.normal(), -2.5, 2.5)))


@dataclass(frozen=True)
class Fermentation:
    original_gravity: float
    final_gravity: float
    hours: float
    wash: Liquid
    """As spirit and water of its strength: the solids are left out."""

    def gravity_at(self, hours: float) -> float:
        """Gravity so many hours after pitching, along a logistic curve."""
        middle = 0.42 * min(self.hours, 48.0)
        steep = 0.235 * 48.0 / min(self.hours, 48.0)
        fall = 1.0 / (1.0 + np.exp(-steep * (hours - middle)))
        start = 1.0 / (1.0 + np.exp(steep * middle))
        part = (fall - start) / (1.0 - start)
        return float(self.original_gravity + (self.final_gravity - self.original_gravity) * part)

    def celsius_at(self, hours: float) -> float:
        """Temperature of the wash: up with the fall in gravity, then slowly down."""
        lost = self.original_gravity - self.gravity_at(hours)
        risen = 14.5 * lost / (self.original_gravity - self.final_gravity)
        return 18.6 + risen - 0.03 * max(0.0, hours - 30.0)


def ferment(rng: np.random.Generator, habits: Habits) -> Fermentation:
    """One mash fermented out: alcohol by what the malt gave, bulk by the gravity it lost."""
    original = habits.original_gravity + float(np.clip(rng.normal(), -2.5, 2.5)) * 0.0008
    final = habits.final_gravity + float(np.clip(rng.normal(), -2.0, 2.0)) * 0.0005
    percent = percent_by_attenuation(original, final)
    alcohol = _about(rng, habits.charge_alcohol * habits.charges_per_washback, 0.009)
    hours = habits.fermenting_hours + rng.uniform(-7.0, 9.0)
    return Fermentation(original, final, hours, Liquid.of(alcohol, percent))


@dataclass(frozen=True)
class WashRun:
    low_wines: Liquid
    pot_ale: Liquid
    vapour: Liquid
    leak: Liquid


def distil_wash(rng: np.random.Generator, habits: Habits, charge: Liquid, leak_share: float) -> WashRun:
    percent = _about(rng, habits.low_wines_percent, 0.018)
    pot_ale = charge.alcohol * max(0.001, rng.normal(habits.pot_ale_share, 0.0012))
    vapour = charge.alcohol * max(0.0005, rng.normal(habits.wash_vapour_share, 0.0006))
    leak = charge.alcohol * leak_share
    low_wines = Liquid.of(charge.alcohol - pot_ale - vapour - leak, percent)
    lost, leaked = Liquid.of(vapour, percent), Liquid.of(leak, percent)
    return WashRun(low_wines, charge - low_wines - lost - leaked, lost, leaked)


@dataclass(frozen=True)
class SpiritRun:
    cut: Liquid
    feints: Liquid
    spent_lees: Liquid
    vapour: Liquid
    leak: Liquid


def distil_spirit(rng: np.random.Generator, habits: Habits, charge: Liquid, leak_share: float) -> SpiritRun:
    percent = habits.cut_percent + float(np.clip(rng.normal(), -2.5, 2.5)) * 0.18
    leak = Liquid.of(charge.alcohol * leak_share, percent)
    lees = charge.alcohol * max(0.0002, rng.normal(habits.lees_share, 0.0003))
    vapour = Liquid.of(charge.alcohol * max(0.0005, rng.normal(habits.spirit_vapour_share, 0.0009)), percent)
    cut = Liquid.of(_about(rng, habits.cut_share, 0.009) * (charge.alcohol - leak.alcohol), percent)
    feints_alcohol = charge.alcohol - leak.alcohol - lees - vapour.alcohol - cut.alcohol
    feints = Liquid.of(feints_alcohol, _about(rng, habits.feints_percent, 0.02))
    return SpiritRun(cut, feints, charge - cut - feints - vapour - leak, vapour, leak)


@dataclass(frozen=True)
class ThirdRun:
    water: Liquid
    """Added to the pot with the charge."""
    heart: Liquid
    heads_and_tails: Liquid
    lost: Liquid
    """The spent charge and what went as vapour."""


def distil_third(rng: np.random.Generator, habits: Habits, kind: str, charge: Liquid) -> ThirdRun:
    pot = charge + Liquid(0.0, charge.mass * rng.uniform(0.6, 1.0))
    loss = charge.alcohol * _about(rng, habits.third_loss_share, 0.12)
    tails = Liquid.of(charge.alcohol * _about(rng, habits.heads_tails_share, 0.025), rng.uniform(76.5, 79.0))
    heart_percent = min(96.0, habits.heart_percent[kind] + rng.normal(0.0, 0.25))
    heart = Liquid.of(charge.alcohol - loss - tails.alcohol, heart_percent)
    return ThirdRun(Liquid(0.0, pot.mass - charge.mass), heart, tails, pot - heart - tails)


def low_wines_at_safe(part: float) -> float:
    """Strength, % vol, at the safe of the wash still when this part (0 to 1) of the run is over."""
    return 46.5 - 33.0 * part - 12.5 * part**3


def distillate_at_safe(part: float) -> float:
    """Strength, % vol, at the safe of the spirit still when this part (0 to 1) of the run is over."""
    return float(76.8 - 9.0 * part - 34.5 * part**2.4)


def cut_parts(first_percent: float, last_percent: float) -> tuple[float, float]:
    """At which parts of a spirit run the safe shows the two strengths between which spirit is kept."""
    parts = np.linspace(0.0, 1.0, 401)
    strengths = np.array([distillate_at_safe(float(part)) for part in parts])
    on, off = np.interp([-first_percent, -last_percent], -strengths, parts)
    return float(on), float(off)
