"""What a kind of figure usually is, learnt from few others of the kind, and how far off one of them lies.

Centre is the median, spread 1.4826 times the median absolute deviation, so the odd wrong figure among the others does
no harm. Such a spread is itself unsure, so it counts as known with so many degrees of freedom, and a deviation is given
as the normal deviate that would be as unlikely. Where the site has a usual spread, that is mixed in with the weight of
ten degrees of freedom (a choice of ours).

Sources: Croux and Rousseeuw, Computational Statistics 1 (1992) 411 (efficiency 0.37 and the correction n/(n - 0.8),
from memory); Wallace, Ann. Math. Stat. 30 (1959) 1124 (normal deviate of Student's t, from memory).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import copysign, inf, log1p, sqrt

from ledger.comparing.statistics.algebra.robust import median_and_spread

# Fewer figures of a kind say nothing yet.
FEWEST_ALIKE = 8
# The site's usual spread counts as if it had been learnt from so many degrees of freedom.
WORTH = 10.0
# Degrees of freedom that the median absolute deviation gets out of one figure, and its correction for few.
_FREEDOM_EACH = 0.37
_SHORT_BY = 0.8
# The median of n figures is unsure by pi/2n of their variance.
_MEDIAN_VARIANCE = 1.5708


@dataclass(frozen=True, slots=True)
class KindEstimate:
    """What a figure should be, how far it strays (one standard deviation), how well that is known (degrees of freedom),
    and from how many others; 0 where the site or another reading says it.
    """

    expected: float
    spread: float
    freedom: float = inf
    counted: int = 0

    def deviate(self, value: float, uncertainty: float = 0.0) -> float:
        """How many normal standard deviations a value lies off, its own standard uncertainty counted in."""
        return normal_deviate((value - self.expected) / sqrt(self.spread**2 + uncertainty**2), self.freedom)


def estimate_kind(others: Sequence[float], expected: float | None, spread: float | None) -> KindEstimate | None:
    """What `others` of a kind make usual; None where that is too little to go on.

    `expected` and `spread` are what the site holds usual: the first holds until there are eight others, the second is
    mixed with theirs by degrees of freedom.
    """
    if len(others) < FEWEST_ALIKE:
        return None if expected is None or not spread else KindEstimate(expected, spread)
    count = len(others)
    centre, scale = median_and_spread(others)
    freedom = _FREEDOM_EACH * count
    variance = (scale * count / (count - _SHORT_BY)) ** 2
    if spread:
        variance = (WORTH * spread**2 + freedom * variance) / (WORTH + freedom)
        freedom += WORTH
    if not variance:
        return None
    return KindEstimate(centre, sqrt(variance * (1.0 + _MEDIAN_VARIANCE / count)), freedom, count)


def normal_deviate(t: float, freedom: float) -> float:
    """The normal deviate as unlikely as Student's t with these degrees of freedom."""
    if freedom == inf:
        return t
    size = (8.0 * freedom + 1.0) / (8.0 * freedom + 3.0) * sqrt(freedom * log1p(t * t / freedom))
    return copysign(size, t)
