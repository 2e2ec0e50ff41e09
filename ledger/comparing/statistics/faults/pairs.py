"""Masking: two faults that hide one another, looked for only inside the operation that fits worst.

Two faults in one gauge, or in both gauges of one gap, can cancel in part. Then γ is high and yet no single T is. In
that case pairs are tried: of the hypotheses that enter the row of the worst operation, and of no others, because among
the millions of pairs of a month some would always fit. A pair has as many degrees of freedom as it has columns.

Source: common practice for masked gross errors (Narasimhan and Jordache, Data Reconciliation and Gross Error Detection,
2000, chapter 8, from memory); looking within one operation only is a choice of ours.
"""

from dataclasses import dataclass

import numpy as np

from ledger.comparing.statistics.algebra.assembly import Window
from ledger.comparing.statistics.algebra.chi_square import critical_value
from ledger.comparing.statistics.algebra.problem import Hypothesis, RowKind
from ledger.comparing.statistics.algebra.projection import orthonormal_basis, project
from ledger.comparing.statistics.faults.bank import make_bank, project_bank
from ledger.comparing.statistics.faults.equivalence import equivalence_groups
from ledger.comparing.statistics.faults.likelihood import (
    LikelihoodRatio,
    NothingToTest,
    global_statistic,
    likelihood_ratio,
)
from ledger.comparing.statistics.faults.ranking import beside_found, found_columns

# γ counts as high when chance passes it once in a thousand windows.
_GLOBAL_TAIL = 0.001
_MOST_DIRECTIONS = 60


@dataclass(frozen=True, slots=True)
class FaultPair:
    """Two faults tested together; `comparable` is their T on the scale of one column."""

    first: Hypothesis
    second: Hypothesis
    fit: LikelihoodRatio
    comparable: float


def global_is_high(statistic: float, degrees_of_freedom: int) -> bool:
    """Whether γ is too high for chance."""
    return degrees_of_freedom > 0 and statistic > critical_value(_GLOBAL_TAIL, degrees_of_freedom)


def masked_pair(window: Window, found: tuple[str, ...], level: float) -> FaultPair | None:
    """The best pair within the worst operation, if γ is high and the pair passes the level; None otherwise."""
    residual, bank = beside_found(window, found)
    free = sum(len(window.hypotheses[window.place(key)].columns) for key in found)
    if not global_is_high(global_statistic(residual), len(residual) - free):
        return None
    row = _worst_operation(window, found)
    if row is None:
        return None
    groups = equivalence_groups(bank)
    leaders: dict[int, int] = {}
    for place in np.flatnonzero(groups >= 0):
        if any(row in column for column in window.hypotheses[place].columns):
            leaders.setdefault(int(groups[place]), int(place))
    places = list(leaders.values())[:_MOST_DIRECTIONS]
    best: FaultPair | None = None
    for index, first in enumerate(places):
        for second in places[index + 1 :]:
            try:
                fit = likelihood_ratio(residual, np.hstack([bank.columns_of(first), bank.columns_of(second)]))
            except NothingToTest:
                continue
            if best is None or fit.comparable > best.comparable:
                best = FaultPair(window.hypotheses[first], window.hypotheses[second], fit, fit.comparable)
    return best if best is not None and best.comparable > level else None


def _worst_operation(window: Window, found: tuple[str, ...]) -> str | None:
    """The operation whose own row, left free beside the faults found, makes γ fall most."""
    problem = window.problem
    keys = [row.key for row in problem.rows if row.kind is RowKind.OPERATION]
    if not keys:
        return None
    units = np.zeros((len(problem.rows), len(keys)))
    for place, key in enumerate(keys):
        units[window.positions[key], place] = 1.0
    bank = make_bank(window.whitening.whiten(units), [1] * len(keys))
    residual = window.whitening.residual
    if found:
        basis = orthonormal_basis(found_columns(window, found))
        residual, bank = project(residual, basis), project_bank(bank, basis)
    return keys[int(np.argmax(bank.statistics(residual)))]
