"""Centre and spread of what is usual, not led astray by the odd bad run.

Such estimates suit learning what is usual; they name no cause, so no finding rests on them. Learn from clean runs:
leave found faults out.
"""

from collections.abc import Sequence
from statistics import fmean, median, stdev

# Makes the median absolute deviation of normal data their standard deviation.
_MAD_TO_SIGMA = 1.4826
_BELONGS = 3.5
# 97.5 % of Student's t over that of the normal, less one, is about two over the number of values (from memory).
_WIDER_FOR_FEW = 2.0


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
