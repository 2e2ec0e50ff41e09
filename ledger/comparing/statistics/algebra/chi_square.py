"""Chi-square tails: how rare a statistic is, and which statistic is that rare.

Tails are kept as natural logarithms, because a dip written 100 mm short gives a statistic in the thousands,
whose tail is far below the smallest float. Degrees of freedom are whole numbers from 1.

Source: the recurrence over degrees of freedom follows from integrating the density by parts; the continued
fraction for the normal tail is the classical one (Abramowitz and Stegun 7.1.14, from memory).
"""

import math
from statistics import NormalDist

_NORMAL = NormalDist()
# Above this argument the continued fraction has converged to the last digit in the depth used.
_FRACTION_FROM = 3.0
_FRACTION_DEPTH = 80


def normal_cdf(z: float) -> float:
    """Probability that a standard normal value lies below z."""
    return 0.5 * math.erfc(-z / math.sqrt(2.0))


def normal_quantile(probability: float) -> float:
    """The standard normal value below which `probability` (between 0 and 1) lies.

    Raises statistics.StatisticsError outside that range.
    """
    return _NORMAL.inv_cdf(probability)


def log_upper_tail(statistic: float, degrees_of_freedom: int) -> float:
    """Natural logarithm of P(chi-square > statistic); 0 for a statistic of 0 or less.

    Raises ValueError if the degrees of freedom are not at least 1.
    """
    if degrees_of_freedom < 1:
        raise ValueError("A chi-square tail needs at least one degree of freedom.")
    half = statistic / 2.0
    if half <= 0.0:
        return 0.0
    odd = degrees_of_freedom % 2
    tail = _log_erfc(math.sqrt(half)) if odd else -half
    for dof in range(1 if odd else 2, degrees_of_freedom, 2):
        term = 0.5 * dof * math.log(half) - half - math.lgamma(0.5 * dof + 1.0)
        larger, smaller = (tail, term) if tail > term else (term, tail)
        tail = larger + math.log1p(math.exp(smaller - larger))
    return min(tail, 0.0)


def upper_tail(statistic: float, degrees_of_freedom: int) -> float:
    """P(chi-square > statistic)."""
    return math.exp(log_upper_tail(statistic, degrees_of_freedom))


def statistic_at(log_tail: float, degrees_of_freedom: int) -> float:
    """The statistic whose upper tail has the natural logarithm `log_tail` (0 or negative).

    Raises ValueError if `log_tail` is positive.
    """
    if log_tail > 0.0:
        raise ValueError("The logarithm of a probability cannot be positive.")
    if log_tail == 0.0:
        return 0.0
    low, high = 0.0, float(degrees_of_freedom)
    while log_upper_tail(high, degrees_of_freedom) > log_tail:
        low, high = high, 2.0 * high
    middle = 0.5 * (low + high)
    # The logarithm of the tail is concave: Newton's step converges, bisection guards it near zero.
    for _ in range(200):
        tail = log_upper_tail(middle, degrees_of_freedom)
        if tail > log_tail:
            low = middle
        else:
            high = middle
        slope = -math.exp(_log_density(middle, degrees_of_freedom) - tail)
        step = middle - (tail - log_tail) / slope if slope else low
        following = step if low < step < high else 0.5 * (low + high)
        if abs(following - middle) <= 1e-13 * middle:
            return following
        middle = following
    return middle


def critical_value(upper_tail_probability: float, degrees_of_freedom: int) -> float:
    """The statistic exceeded with the given probability (above 0, at most 1)."""
    return statistic_at(math.log(upper_tail_probability), degrees_of_freedom)


def _log_density(statistic: float, degrees_of_freedom: int) -> float:
    half_dof = 0.5 * degrees_of_freedom
    return (half_dof - 1.0) * math.log(statistic) - 0.5 * statistic - half_dof * math.log(2.0) - math.lgamma(half_dof)


def _log_erfc(x: float) -> float:
    if x < _FRACTION_FROM:
        return math.log(math.erfc(x))
    fraction = 0.0
    for depth in range(_FRACTION_DEPTH, 0, -1):
        fraction = 0.5 * depth / (x + fraction)
    return -x * x - math.log(x + fraction) - 0.5 * math.log(math.pi)
