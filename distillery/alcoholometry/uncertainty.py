"""Standard uncertainty of a gauge, and of sums and differences of gauges that share an instrument.

JCGM 100:2008: law of propagation 5.1.2, correlated inputs 5.2, rectangular limits 4.3.7. Two results are correlated
exactly as far as they hold the same source: parts of one source add with their signs, parts of different sources
in quadrature. Shares of a resolution and of a certificate follow the same document (F.2.2.1, 4.3.3).
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from math import fsum, sqrt

from .errors import AlcoholometryError, OutOfRange, require_finite, require_not_negative


@dataclass(frozen=True, slots=True)
class Component:
    """One source of error and its signed effect (sensitivity × standard uncertainty), in the unit of the result."""

    source: str
    signed: float

    def split(self, *, lasting_share: float, lasting: str) -> tuple["Component", ...]:
        """Part the variance in a chance error, keeping this source, and a lasting one under the name ``lasting``.

        ``lasting_share`` 0 to 1; raises OutOfRange.
        """
        if not 0.0 <= lasting_share <= 1.0:
            raise OutOfRange(f"The lasting share of an error is {lasting_share:g}: it must be from 0 to 1.")
        chance = Component(self.source, self.signed * sqrt(1.0 - lasting_share))
        if lasting_share == 0.0:
            return (chance,)
        common = Component(lasting, self.signed * sqrt(lasting_share))
        return (common,) if lasting_share == 1.0 else (chance, common)


def combined(components: Iterable[Component]) -> float:
    """Standard uncertainty: same source with sign, different sources in quadrature."""
    by_source = _by_source(components)
    return sqrt(fsum(total**2 for total in by_source.values()))


def covariance(first: Iterable[Component], second: Iterable[Component]) -> float:
    """Covariance of two results through the sources they share."""
    mine, theirs = _by_source(first), _by_source(second)
    return fsum(total * theirs[source] for source, total in mine.items() if source in theirs)


def correlation(first: Sequence[Component], second: Sequence[Component]) -> float:
    """Correlation, -1 to 1, of two results; 0 where either has no uncertainty."""
    spread = combined(first) * combined(second)
    return covariance(first, second) / spread if spread else 0.0


def weighted(terms: Iterable[tuple[float, Iterable[Component]]]) -> tuple[Component, ...]:
    """Components of a sum of results, each with its factor (1 for what came in, -1 for what went out)."""
    return tuple(
        Component(component.source, factor * component.signed)
        for factor, components in terms
        for component in components
    )


def rectangular(limit: float) -> float:
    """Standard uncertainty of a limit ±``limit`` with no more knowledge: limit over √3."""
    return require_not_negative(limit, "Limit of error") / sqrt(3.0)


def resolution(division: float) -> float:
    """Standard uncertainty of reading to the nearest ``division``: division over √12."""
    return require_not_negative(division, "Resolution") / sqrt(12.0)


def certificate(*, expanded: float, coverage_factor: float) -> float:
    """Standard uncertainty of a certificate that states an expanded one and its coverage factor k."""
    if require_finite(coverage_factor, "Coverage factor") <= 0:
        raise OutOfRange(f"A coverage factor of {coverage_factor:g} is impossible: a certificate usually has k = 2.")
    return require_not_negative(expanded, "Expanded uncertainty") / coverage_factor


def in_quadrature(*parts: float) -> float:
    """Standard uncertainty of independent parts of one reading (scale error, reading it, gradient in the tank)."""
    return sqrt(fsum(require_not_negative(part, "Standard uncertainty") ** 2 for part in parts))


def sensitivity(function: Callable[[float], tuple[float, ...]], value: float, *, step: float) -> tuple[float, ...]:
    """Slopes of each result of ``function`` at ``value`` by central difference; one-sided at the edge of its range.

    Raises what ``function`` raises when it cannot be moved either way.
    """
    try:
        above, upper = function(value + step), step
    except AlcoholometryError:
        above, upper = function(value), 0.0
    try:
        below, lower = function(value - step), step
    except AlcoholometryError:
        if not upper:
            raise
        below, lower = function(value), 0.0
    return tuple((high - low) / (upper + lower) for high, low in zip(above, below, strict=True))


def _by_source(components: Iterable[Component]) -> dict[str, float]:
    totals: dict[str, float] = {}
    for component in components:
        totals[component.source] = totals.get(component.source, 0.0) + component.signed
    return totals
