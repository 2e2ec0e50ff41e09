"""Usual loss and its spread from history, not led astray by the odd bad run.

Median and 1.4826·MAD first, then Huber's estimate with k = 1.345 (95 % efficient on normal data; from memory). Such
estimates suit learning what is usual; they name no cause, so no finding rests on them. Learn from clean runs:
leave found faults out. Shares are of the charge, losses positive.

Source: Huber, Ann. Math. Stat. 35 (1964) 73-101 (from memory); the runs needed are common practice, no source.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean, median, stdev

# Makes the median absolute deviation of normal data their standard deviation.
_MAD_TO_SIGMA = 1.4826
HUBER_K = 1.345
# Clean runs after which a type's own history replaces the reference.
RUNS_TO_LEARN = 20
_MOST_STEPS = 100
_BELONGS = 3.5
# 97.5 % of Student's t over that of the normal, less one, is about two over the number of values (from memory).
_WIDER_FOR_FEW = 2.0


@dataclass(frozen=True, slots=True)
class UsualShare:
    """Usual loss of one type of operation: mean share, doubt about it, and spread from run to run.

    `runs` is how many runs it was learnt from; 0 for a reference value.
    """

    mean: float
    doubt: float
    spread: float
    runs: int = 0


def median_and_spread(values: Sequence[float]) -> tuple[float, float]:
    """Median and 1.4826 times the median absolute deviation.

    Raises statistics.StatisticsError without values.
    """
    centre = median(values)
    return centre, _MAD_TO_SIGMA * median(abs(value - centre) for value in values)


def centre_and_spread(values: Sequence[float]) -> tuple[float, float]:
    """Mean and standard deviation of the values that belong together: those within 3.5 robust spreads of the median.

    The median absolute deviation of a few values is a poor measure of their spread; once it has said which of them are
    outliers, the others' own standard deviation is a better one. The spread is widened for few values, as Student's t
    widens a normal range. Raises statistics.StatisticsError without values.
    """
    centre, spread = median_and_spread(values)
    kept = [value for value in values if abs(value - centre) <= _BELONGS * spread]
    if len(kept) < 3:
        return centre, spread
    # Where the middle happens to lie close together, what was left out may have belonged: the larger of the two.
    return fmean(kept), max(stdev(kept), spread) * (1.0 + _WIDER_FOR_FEW / len(kept))


def huber_mean(values: Sequence[float], k: float = HUBER_K) -> float:
    """Huber's estimate of the centre: values further than k spreads away count less, the further the less.

    The spread is held at 1.4826·MAD; where more than half the values are equal it is 0 and the median stands.
    """
    centre, spread = median_and_spread(values)
    if spread == 0.0:
        return centre
    reach = k * spread
    for _ in range(_MOST_STEPS):
        moved = centre + fmean(max(-reach, min(reach, value - centre)) for value in values)
        if abs(moved - centre) <= 1e-12 * spread:
            return moved
        centre = moved
    return centre


def usual_share(shares: Sequence[float], reference: UsualShare, measurement: Sequence[float] = ()) -> UsualShare:
    """Usual share from clean runs, or the reference while there are fewer than twenty.

    `measurement` are the standard uncertainties of the same shares from their gauges: V holds those already, so
    they are taken out of the spread (down to no less than 0). Raises ValueError if their number differs.
    """
    if measurement and len(measurement) != len(shares):
        raise ValueError("Give one measurement uncertainty for every share, or none.")
    if len(shares) < RUNS_TO_LEARN:
        return reference
    _, spread = median_and_spread(shares)
    doubt = spread / len(shares) ** 0.5
    measured = fmean(u * u for u in measurement) if measurement else 0.0
    process = max(spread * spread - measured, 0.0) ** 0.5
    return UsualShare(huber_mean(shares), doubt, process, len(shares))
