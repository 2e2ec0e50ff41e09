"""Sums of a still house that charges its feints again: where it settles, how soon, and what a period yielded.

Of the pure alcohol of each charge a share s leaves as spirit, r comes back as foreshots and feints, z is left in spent
lees or lost; s + r + z = 1. Units stand in the names, LPA are litres of pure alcohol at 20 °C. Refusals are those of
`distillery.alcoholometry.errors`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from math import ceil, log
from typing import Final

from distillery.alcoholometry.errors import CannotReach, OutOfRange, require_finite, require_not_negative

KILOGRAMS_A_TONNE: Final = 1000.0
# Within how much of steady a charge counts as settled.
SETTLED_WITHIN: Final = 0.01


@dataclass(frozen=True, slots=True)
class Shares:
    """Shares of a charge's pure alcohol: `recycled` 0 to below 1, `lost` 0 to 1, together at most 1.

    Raises OutOfRange where they cannot be.
    """

    recycled: float
    lost: float

    def __post_init__(self) -> None:
        recycled, lost = require_finite(self.recycled, "Share recycled"), require_finite(self.lost, "Share lost")
        if not 0.0 <= recycled < 1.0:
            raise OutOfRange(f"A share recycled of {recycled:g} never settles: enter a figure from 0 to below 1.")
        if not 0.0 <= lost <= 1.0 - recycled + 1e-12:
            raise OutOfRange(
                f"Shares recycled {recycled:g} and lost {lost:g} come to more than the charge: check both."
            )

    @property
    def spirit(self) -> float:
        """Share that leaves as spirit."""
        return max(0.0, 1.0 - self.recycled - self.lost)

    @classmethod
    def of_a_run(cls, *, charged_lpa: float, spirit_lpa: float, recycled_lpa: float) -> Shares:
        """The shares of one run; what is neither spirit nor recycled is lost. Raises CannotReach, OutOfRange."""
        charged = require_not_negative(charged_lpa, "Charge")
        if charged == 0.0:
            raise CannotReach("A charge of nothing has no shares: enter the charge.")
        recycled = require_not_negative(recycled_lpa, "Foreshots and feints") / charged
        return cls(recycled=recycled, lost=1.0 - recycled - require_not_negative(spirit_lpa, "Spirit") / charged)


@dataclass(frozen=True, slots=True)
class Steady:
    """One charge of a still house that has settled, LPA: what is charged and what leaves."""

    charge_lpa: float
    recycled_lpa: float
    spirit_lpa: float
    lost_lpa: float

    @property
    def lost_percent_of_fresh(self) -> float:
        """What is lost, % of the fresh low wines: 0.5 % of each charge is 1.01 % where 0.505 is recycled."""
        return 100.0 * self.lost_lpa / (self.spirit_lpa + self.lost_lpa)


def steady(*, low_wines_lpa: float, shares: Shares) -> Steady:
    """Where charges settle that get so much low wines each, LPA: charge L/(1 − r), r, s and z of which go their ways.

    L 1,012, r 0.505, z 0.005: charge 2,044.4, recycled 1,032.4, spirit 1,001.8, lost 10.2. Raises CannotReach for none.
    """
    if require_not_negative(low_wines_lpa, "Low wines") == 0.0:
        raise CannotReach("Without low wines there is no charge to settle: enter them.")
    charge = low_wines_lpa / (1.0 - shares.recycled)
    return Steady(charge, shares.recycled * charge, shares.spirit * charge, shares.lost * charge)


def charges_on(*, low_wines_lpa: float, shares: Shares, recycled_lpa: float = 0.0) -> Iterator[Steady]:
    """One charge after another without end, from so much in the feints receiver: how the still house settles.

    From an empty receiver with L 1,012, r 0.505, s 0.490 the first eight give 495.9, 746.3, 872.8, 936.6, 968.9, 985.2,
    993.4 and 997.5 LPA of spirit.
    """
    fresh = require_not_negative(low_wines_lpa, "Low wines")
    recycled = require_not_negative(recycled_lpa, "Foreshots and feints")
    while True:
        charge = fresh + recycled
        recycled = shares.recycled * charge
        yield Steady(charge, recycled, shares.spirit * charge, shares.lost * charge)


def first_charges(count: int, *, low_wines_lpa: float, shares: Shares, recycled_lpa: float = 0.0) -> list[Steady]:
    """The first `count` of `charges_on`."""
    return list(islice(charges_on(low_wines_lpa=low_wines_lpa, shares=shares, recycled_lpa=recycled_lpa), count))


def charges_to_settle(recycled: float, *, within: float = SETTLED_WITHIN) -> int:
    """How many charges until r to the power n is below `within`: 7 for r 0.505 and 1 %.

    `recycled` 0 to below 1, `within` above 0 and below 1; raises OutOfRange.
    """
    share = Shares(recycled=recycled, lost=0.0).recycled
    if not 0.0 < require_finite(within, "Distance from steady") < 1.0:
        raise OutOfRange(f"A distance from steady of {within:g} is never reached: enter a figure between 0 and 1.")
    if share == 0.0:
        return 1
    number = max(1, ceil(log(within) / log(share)))
    return number + 1 if share**number >= within else number


def yield_lpa_per_tonne(
    *, spirit_lpa: float, feints_open_lpa: float, feints_close_lpa: float, malt_kilograms: float
) -> float:
    """Spirit of a distillation period with the change of its feints, LPA a tonne of malt.

    19,800 LPA, feints from 1,040 to 1,120, of 50,000 kg: 397.6. The malt's specification promises 400 to 420. Raises
    CannotReach without malt.
    """
    if require_not_negative(malt_kilograms, "Malt") == 0.0:
        raise CannotReach("Without malt there is no yield of it: enter what was mashed.")
    opened = require_not_negative(feints_open_lpa, "Opening feints")
    closed = require_not_negative(feints_close_lpa, "Closing feints")
    made = require_not_negative(spirit_lpa, "Spirit") + closed - opened
    return KILOGRAMS_A_TONNE * made / malt_kilograms


def yield_efficiency_percent(*, yield_lpa_per_tonne: float, predicted_lpa_per_tonne: float) -> float:
    """A yield as % of the malt's predicted spirit yield, both LPA a tonne on one basis: 397.6 of 405.96 is 97.94 %.

    Raises CannotReach without a prediction.
    """
    if require_not_negative(predicted_lpa_per_tonne, "Predicted spirit yield") == 0.0:
        raise CannotReach("Without a predicted spirit yield there is nothing to judge by: enter the malt's.")
    return 100.0 * require_finite(yield_lpa_per_tonne, "Yield") / predicted_lpa_per_tonne
