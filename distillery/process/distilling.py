"""Sums of one charge of a pot still: how full it is, how strong, what came of it, and what its readings can tell.

Units stand in the names; strengths are % vol at 20 °C, LPA litres of pure alcohol at 20 °C. Whatever is not a number,
below nothing or beyond its range raises an AlcoholometryError whose sentence says what to do. Published figures beside
each function are those of its test.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from math import hypot, sqrt
from typing import Final

from distillery.alcoholometry.errors import (
    CannotReach,
    OutOfRange,
    require_finite,
    require_not_negative,
    require_percent,
)

COVERAGE_FACTOR: Final = 2.0
# A gain of more times U95 than this is held until it is measured again.
HELD_BEYOND: Final = 1.5


@dataclass(frozen=True, slots=True)
class Part:
    """A part of a charge or of a cut: litres at 20 °C and % vol, 0 to 100."""

    litres: float
    percent: float

    @property
    def lpa(self) -> float:
        """Its pure alcohol, LPA; raises NegativeQuantity, NotANumber or OutOfRange."""
        return require_not_negative(self.litres, "Volume") * require_percent(self.percent, "Strength") / 100.0


def percent_of(part: float, whole: float, *, what: str) -> float:
    """`part` as % of `whole`, both in one unit, zero or more; raises CannotReach where the whole is nothing.

    Pot ale: 8,000 of 12,000 L is 66.7 %, 7,500 of 12,500 L is 60 %; spent lees: 2,500 of 7,500 L is 33.3 % (Whisky
    Magazine issue 148, 2018).
    """
    require_not_negative(part, what)
    if require_not_negative(whole, "Charge") == 0.0:
        raise CannotReach(f"{what} has no share of a charge of nothing: enter the charge.")
    return 100.0 * part / whole


def recovery_percent(*, charged_lpa: float, recovered_lpa: float) -> float:
    """Pure alcohol found again after a run, % of what was charged; raises CannotReach for an empty charge.

    1,020 LPA of wash that gave 1,012 LPA of low wines: 99.2 %. Above 100 is possible within what the gauges tell.
    """
    return percent_of(recovered_lpa, charged_lpa, what="What was recovered")


def low_wines_lpa(*, wash: Part, pot_ale: Part) -> float:
    """Pure alcohol that wash gives to low wines where nothing but the pot ale keeps any, LPA.

    12,000 L at 8.5 % less 8,000 L of pot ale at 0.1 %: 1,012 LPA. Raises CannotReach where the pot ale holds more.
    """
    left = wash.lpa - pot_ale.lpa
    if left < 0.0:
        raise CannotReach("The pot ale holds more alcohol than the wash did: check its volume and strength.")
    return left


def unavoidable_pot_ale_loss_percent(*, pot_ale: Part, charged_lpa: float) -> float:
    """What stays in the pot ale when the run ends, % of the charge's pure alcohol.

    Where the distillate reads 1.0 % vol at the end, simple distillation without reflux leaves 0.08 to 0.1 % in the pot:
    7,102 L at 0.084 % of 1,020 LPA is 0.58 %.
    """
    return percent_of(pot_ale.lpa, charged_lpa, what="What the pot ale holds")


def charge_fill_percent(*, charge_litres: float, marked_litres: float) -> float:
    """A charge as % of the marked charge of its still, both in litres: 12,000 of 12,500 L is 96 %."""
    return percent_of(charge_litres, marked_litres, what="The charge")


def charge_percent(parts: Iterable[Part]) -> float:
    """Strength of a charge made of several parts, % vol by volume, change of volume on mixing left out.

    4,000 L of low wines with 1,012 LPA and 3,500 L of foreshots and feints with 1,032.4 LPA: 27.3 % vol; the usual
    range is 24 to 28 (Whisky Magazine issue 73, 2008). Raises CannotReach for nothing at all.
    """
    return _volume_weighted(parts, "A charge of nothing has no strength: enter its volumes.")


def cut_average_percent(parts: Iterable[Part]) -> float:
    """Average strength of a cut, % vol by volume; never the middle of its first and last reading.

    500 L at 74, 500 L at 71 and 400 L at 67 % vol: 70.93 % vol.
    """
    return _volume_weighted(parts, "A cut of nothing has no strength: enter its volumes.")


def volume_litres(*, lpa: float, percent: float) -> float:
    """Litres at 20 °C that hold so much pure alcohol at a strength, 0 to 100 % vol without 0; raises CannotReach.

    1,001.78 LPA at 71.2 % vol are 1,407 L.
    """
    if require_percent(percent, "Strength") == 0.0:
        raise CannotReach("At 0 % vol no volume holds any alcohol: enter the strength.")
    return 100.0 * require_not_negative(lpa, "Pure alcohol") / percent


def spirits_account_lpa(*, after_lpa: float, remnant_lpa: float) -> float:
    """Spirits account of a collection, LPA: the gauge after it less the remnant that stood in the receiver before.

    HMRC Spirits Production Manual SPIR4130. 2,315.4 after, remnant 311.6: 2,003.8. Below nothing only by the spread of
    two gauges of a receiver into which nothing ran.
    """
    return require_not_negative(after_lpa, "Gauge after collection") - require_not_negative(remnant_lpa, "Remnant")


def gauge_u95_percent(*, volume_u_percent: float, strength_u: float, percent: float) -> float:
    """What one gauge may be off by, % of its pure alcohol, at two standard uncertainties.

    `volume_u_percent` is the standard uncertainty of the volume in %, `strength_u` that of the strength in % vol. Wash
    at 8.5 % vol, 0.5 % and 0.1: 2.56 %; a vat at 63.5 % vol, 0.25 % and 0.1: 0.59 %. Raises CannotReach at 0 % vol.
    """
    if require_percent(percent, "Strength") == 0.0:
        raise CannotReach("A gauge of no alcohol has no share to be off by: enter the strength.")
    volume = require_not_negative(volume_u_percent, "Uncertainty of the volume")
    strength = require_not_negative(strength_u, "Uncertainty of the strength")
    return COVERAGE_FACTOR * hypot(volume, 100.0 * strength / percent)


def balance_u95_percent(*gauges_u95_percent: float) -> float:
    """What a balance of several gauges of like size may be off by, %: the root of the sum of squares.

    Wash 2.56 % and low wines at 25 % vol (0.5 %, 0.2) 1.89 %: 3.18 %. The gauges are taken as independent.
    """
    return sqrt(sum(require_not_negative(one, "U95 of a gauge") ** 2 for one in gauges_u95_percent))


class Said(StrEnum):
    """What a loss says against the usual loss of its operation: a review threshold, never an allowance."""

    USUAL = "usual"
    AMBER = "amber"
    RED = "red"


def loss_limits_percent(*, usual_percent: float, u95_percent: float, runs: int = 1) -> tuple[float, float]:
    """Amber and red limit of a loss in %: the usual mean and two, or three, standard uncertainties of the balance.

    The mean of several runs is surer by the root of their number, as far as their errors are independent. Wash still,
    usual 1.0 and U95 3.18: 4.18 and 5.77 for one run; 1.58 for the mean of 30. Raises OutOfRange below one run.
    """
    if runs < 1:
        raise OutOfRange(f"A mean of {runs} runs says nothing: enter how many runs it is taken of, one or more.")
    standard = require_not_negative(u95_percent, "U95") / COVERAGE_FACTOR / sqrt(runs)
    usual = require_finite(usual_percent, "Usual loss")
    return usual + 2.0 * standard, usual + 3.0 * standard


def judged_loss(loss_percent: float, *, usual_percent: float, u95_percent: float, runs: int = 1) -> Said:
    """Where a loss in % stands to the limits of `loss_limits_percent`; one beyond them is looked into."""
    amber, red = loss_limits_percent(usual_percent=usual_percent, u95_percent=u95_percent, runs=runs)
    loss = require_finite(loss_percent, "Loss")
    return Said.RED if loss > red else Said.AMBER if loss > amber else Said.USUAL


def judged_gain(gain_percent: float, *, u95_percent: float) -> Said:
    """What a gain in % says against what the gauges can be off by: beyond U95 it is measured again, beyond one and a
    half times U95 nothing is moved before that (process reference, section J, computed). Nothing comes from nothing.

    Two gauges of a vat, U95 0.84: 1.0 % is amber, 1.4 % red. Raises AlcoholometryError.
    """
    u95, gain = require_not_negative(u95_percent, "U95"), require_finite(gain_percent, "Gain")
    return Said.RED if gain > HELD_BEYOND * u95 else Said.AMBER if gain > u95 else Said.USUAL


def most_recovery_percent(*, usual_loss_percent: float, u95_percent: float) -> float:
    """Recovery in % above which the readings of one run contradict themselves: no run gives more than it was charged.

    Wash still, usual loss 1.0 and U95 3.18: 102.2 %, so that 100.98 % is within what its gauges tell, 102.55 % is not.
    Spirit still, 0.5 and 2.1: 101.6 %.
    """
    return 100.0 - require_finite(usual_loss_percent, "Usual loss") + require_not_negative(u95_percent, "U95")


def _volume_weighted(parts: Iterable[Part], nothing: str) -> float:
    taken = list(parts)
    litres = sum(part.litres for part in taken)
    if sum(part.lpa for part in taken) and litres:
        return 100.0 * sum(part.lpa for part in taken) / litres
    if litres:
        return 0.0
    raise CannotReach(nothing)
