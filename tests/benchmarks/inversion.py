"""Speed of one inversion, hydrometer reading and temperature to true strength, against a root finder on the formula.

Prints a ratio of the same run, best of five rounds; asserts nothing about time. Every pair of the set has its own
temperature and the kept isotherms are dropped before each round, so nothing is answered from memory.
Run: ``python tests/benchmarks/inversion.py``
"""

from random import Random
from time import perf_counter

from scipy.optimize import brentq

from distillery.alcoholometry.formula import A, B, C, isotherm
from distillery.alcoholometry.reading import SODA_LIME_PER_CELSIUS, true_percent

PAIRS = 2000
ROUNDS = 5


def plain_density(p: float, celsius: float) -> float:
    """The general formula as it is printed, term by term."""
    d = celsius - 20.0
    return (
        A[0]
        + sum(A[k - 1] * p ** (k - 1) for k in range(2, 13))
        + sum(B[k - 1] * d**k for k in range(1, 7))
        + sum(c * p**k * d**i for i, family in enumerate(C, 1) for k, c in enumerate(family, 1))
    )


def straight_density(p: float, celsius: float) -> float:
    """The same sum with nested multiplication, temperature and strength together, nothing kept between calls."""
    d = celsius - 20.0
    total = 0.0
    for a in reversed(A):
        total = total * p + a
    by_temperature = 0.0
    for b in reversed(B):
        by_temperature = (by_temperature + b) * d
    mixed = 0.0
    for family in reversed(C):
        by_strength = 0.0
        for c in reversed(family):
            by_strength = (by_strength + c) * p
        mixed = (mixed + by_strength) * d
    return total + by_temperature + mixed


def by_root_finder(density, reading: float, celsius: float) -> float:
    """The same question put to scipy's brentq: the mark's strength, then the liquid's."""
    ethanol = density(1.0, 20.0)
    at_mark = brentq(lambda p: 100 * p * density(p, 20.0) / ethanol - reading, 0.0, 1.0, xtol=1e-12)
    liquid = density(at_mark, 20.0) * (1 - SODA_LIME_PER_CELSIUS * (celsius - 20.0))
    p = brentq(lambda x: density(x, celsius) - liquid, 0.0, 1.0, xtol=1e-12)
    return 100 * p * density(p, 20.0) / ethanol


def by_one_root(density, reading: float, celsius: float) -> float:
    """As by_root_finder with the mark's strength given for nothing: the root finder's best case."""
    liquid = reading * (1 - SODA_LIME_PER_CELSIUS * (celsius - 20.0))
    p = brentq(lambda x: density(x, celsius) - liquid, 0.0, 1.0, xtol=1e-12)
    return 100 * p * density(p, 20.0) / density(1.0, 20.0)


def best_seconds(function, pairs: list[tuple[float, float]]) -> float:
    """Best of the rounds, seconds for one pair."""
    best = float("inf")
    for _ in range(ROUNDS):
        isotherm.cache_clear()
        start = perf_counter()
        for reading, celsius in pairs:
            function(reading, celsius)
        best = min(best, perf_counter() - start)
    return best / len(pairs)


def main() -> None:
    """Print microseconds and ratios."""
    draw = Random(20)
    pairs = [(draw.uniform(5, 90), draw.uniform(5, 25)) for _ in range(PAIRS)]
    marks = [(straight_density(q / 100, 20.0), t) for q, t in pairs]
    worst = max(
        abs(true_percent(reading_percent=q, celsius=t) - by_root_finder(plain_density, q, t)) for q, t in pairs[:200]
    )
    ours = best_seconds(lambda q, t: true_percent(reading_percent=q, celsius=t), pairs)
    print(f"reading to strength            {ours * 1e6:8.1f} µs   (disagreement at most {worst:.1e} % vol)")
    for name, function, over in (
        ("brentq, formula as printed", lambda q, t: by_root_finder(plain_density, q, t), pairs),
        ("brentq, nested formula", lambda q, t: by_root_finder(straight_density, q, t), pairs),
        ("brentq, nested, one root only", lambda q, t: by_one_root(straight_density, q, t), marks),
    ):
        seconds = best_seconds(function, over)
        print(f"{name:30} {seconds * 1e6:8.1f} µs   ratio {ours / seconds:.3f}")


if __name__ == "__main__":
    main()
