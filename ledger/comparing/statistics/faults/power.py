"""What could be seen at all: detection power, the smallest loss that shows, and what better instruments buy.

A fault of size b with standard uncertainty u_b has the noncentrality λ = b²/u_b² (0 or more). Its T passes a level c²
with the probability Φ(√λ − c) + Φ(−√λ − c). For what lasts, λ grows with every run, but only until the errors common to
all runs, which do not average out, are as large as the rest.

Sizes are in the unit of the hypothesis: LPA for a loss, a share of the charge (0 to 1) for a lasting loss.

Source: noncentral chi-square with one degree of freedom as a shifted normal; law of propagation, JCGM 100:2008 5.1.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ledger.comparing.statistics.algebra.assembly import dense, row_positions, whiten_problem
from ledger.comparing.statistics.algebra.chi_square import normal_cdf, normal_quantile
from ledger.comparing.statistics.algebra.problem import Hypothesis, Problem
from ledger.comparing.statistics.algebra.projection import left_free
from ledger.comparing.statistics.faults.likelihood import FINDING_LEVEL, likelihood_ratio


@dataclass(frozen=True, slots=True)
class Visibility:
    """u_b of a fault in its window, and the size seen with the wanted probability, in the fault's unit."""

    standard_uncertainty: float
    detectable: float


@dataclass(frozen=True, slots=True)
class Contribution:
    """What one instrument or reading costs: fall of the detectable size per unit of its standard uncertainty.

    `removable` is how much the detectable size would fall, to first order, if its uncertainty went to zero.
    """

    key: str
    slope: float
    removable: float


def detection_probability(noncentrality: float, level: float = FINDING_LEVEL) -> float:
    """Probability that T of a fault with this λ passes the level (one column)."""
    root, critical = math.sqrt(noncentrality), math.sqrt(level)
    return normal_cdf(root - critical) + normal_cdf(-root - critical)


def detectable_size(standard_uncertainty: float, level: float = FINDING_LEVEL, probability: float = 0.9) -> float:
    """The size seen with this probability: (c + z)·u_b, 5.75 u_b at T > 20 in nine of ten."""
    return (math.sqrt(level) + normal_quantile(probability)) * standard_uncertainty


def visibility(
    problem: Problem,
    hypothesis: Hypothesis,
    *,
    found: Sequence[Hypothesis] = (),
    level: float = FINDING_LEVEL,
    probability: float = 0.9,
) -> Visibility:
    """How small a fault this window could show, beside faults already found whose sizes are left free.

    Raises NothingToTest if the fault moves no row, ProblemError if the window cannot be whitened.
    """
    whitening, positions = whiten_problem(problem), row_positions(problem)
    columns = whitening.whiten(dense(hypothesis.columns, positions))
    free = [whitening.whiten(dense(one.columns, positions)) for one in found]
    residual, columns = left_free(whitening.residual, columns, free)
    uncertainty = likelihood_ratio(residual, columns).uncertainty
    return Visibility(uncertainty, detectable_size(uncertainty, level, probability))


def with_instruments(
    problem: Problem,
    hypothesis: Hypothesis,
    changes: Mapping[str, Mapping[str, float]],
    *,
    level: float = FINDING_LEVEL,
    probability: float = 0.9,
) -> dict[str, Visibility]:
    """The same window under other instruments: name of the change -> reading key -> its new uncertainty.

    V is built again for each; the calibration errors of instruments stay as they are.
    """
    return {
        name: visibility(problem.with_uncertainties(uncertainties), hypothesis, level=level, probability=probability)
        for name, uncertainties in changes.items()
    }


def contributions(
    problem: Problem,
    hypothesis: Hypothesis,
    together: Mapping[str, Sequence[str]] | None = None,
    *,
    level: float = FINDING_LEVEL,
    probability: float = 0.9,
) -> list[Contribution]:
    """Readings, or groups of readings changed together, by what a better one would buy, the best first.

    With q = f'V⁻¹f: ∂u_b/∂u_k = u_b³ · u_k · (f'V⁻¹f_k)², so no rebuilding is needed. `together` are group key ->
    reading keys (all readings of one instrument); for a one-column hypothesis. Raises ProblemError if
    the window cannot be whitened.
    """
    whitening, positions = whiten_problem(problem), row_positions(problem)
    fault = whitening.whiten(dense(hypothesis.columns[:1], positions))[:, 0]
    readings = whitening.whiten(dense([one.column for one in problem.readings], positions))
    uncertainties = np.array([one.standard_uncertainty for one in problem.readings])
    fault_uncertainty = 1.0 / math.sqrt(float(fault @ fault))
    factor = detectable_size(1.0, level, probability)
    slopes = factor * fault_uncertainty**3 * uncertainties * (fault @ readings) ** 2
    # u_b depends on u_k², so removing all of u_k gains half of slope times u_k to first order in u_k².
    removable = 0.5 * slopes * uncertainties
    places = {one.key: place for place, one in enumerate(problem.readings)}
    groups = together or {key: (key,) for key in places}
    ordered = [
        Contribution(
            key,
            float(sum(slopes[places[reading]] for reading in members)),
            float(sum(removable[places[reading]] for reading in members)),
        )
        for key, members in groups.items()
    ]
    return sorted(ordered, key=lambda one: -one.removable)
