"""Ranking: every explanation of a window in order, equivalent ones on one line, slips weighed.

T says how much better the figures close. The order goes by a score, which adds what the slips and the prior odds say:
score = T + 2 ln (Bayes factor) + 2 ln (prior odds). Whether something is found is asked of T alone, never of the score.

Explanations that the figures cannot tell apart make one line, and a loss stands first in it. T is a measure of fit and
no probability that somebody did wrong; sizes are reported as b ± 2 u_b.

Source: Narasimhan and Mah, AIChE J. 33 (1987), for ranking by T; the score is Bayes' rule for the ratio of two
explanations (Kass and Raftery, J. Am. Stat. Assoc. 90 (1995) 773-795, from memory).
"""

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ledger.comparing.statistics.algebra.arrays import Matrix, Vector
from ledger.comparing.statistics.algebra.assembly import Window
from ledger.comparing.statistics.algebra.problem import FaultKind, Hypothesis
from ledger.comparing.statistics.algebra.projection import orthonormal_basis, project
from ledger.comparing.statistics.faults.bank import Bank, project_bank
from ledger.comparing.statistics.faults.equivalence import (
    bank_cosine,
    equivalence_groups,
    probability_ranked_above,
)
from ledger.comparing.statistics.faults.levels import NOT_SEPARATED
from ledger.comparing.statistics.faults.likelihood import NEIGHBOUR_LEVEL, LikelihoodRatio
from ledger.comparing.statistics.faults.slips import (
    NO_EVIDENCE,
    SlipEvidence,
    is_possible,
    weigh_slips,
    weigh_written,
)

_LOSSES = (FaultKind.LOSS, FaultKind.LASTING_LOSS)
# Standard uncertainty of one linear step over a large error, as a share of the error: tables narrow towards their ends.
_ONE_STEP_SLACK = 0.08


@dataclass(frozen=True, slots=True)
class Estimate:
    """One hypothesis tested: its fit, the evidence of its slips, its score, and whether its right value can be.

    `comparable` is T on the scale of one column.
    """

    hypothesis: Hypothesis
    fit: LikelihoodRatio
    comparable: float
    evidence: SlipEvidence
    score: float
    possible: bool

    @property
    def right_value(self) -> float | None:
        """For a reading whose written value is known: written − b."""
        written = self.hypothesis.written
        return None if written is None else written.value - self.fit.size


@dataclass(frozen=True, slots=True)
class Explanation:
    """One direction the figures can point in: its best estimate, and all that fit equally well (losses first).

    `separated` is False when its T is within 2 ln 20 of the best, so that both have to be shown (for the best: when
    another is that close). `rho` is its cosine with the best explanation, `probability_best_above` how likely the
    best would outrank it if the best is true.
    """

    leading: Estimate
    members: tuple[Estimate, ...]
    separated: bool
    rho: float
    probability_best_above: float

    @property
    def comparable(self) -> float:
        """T on the scale of one column; the same for all members."""
        return self.leading.comparable

    @property
    def possible(self) -> bool:
        """Whether at least one member can be true."""
        return any(member.possible for member in self.members)


def rank_window(
    window: Window,
    found: Sequence[str] = (),
    limit: int | None = None,
    rows: Collection[str] | None = None,
) -> list[Explanation]:
    """Explanations of the window, best score first; those that cannot be true at all stand last.

    `found` are keys of faults already accepted, whose sizes are left free; with `rows`, only hypotheses that enter one
    of these rows. Raises FollowsFromFound if the accepted faults depend on one another, KeyError for an unknown key.
    """
    residual, bank = beside_found(window, found)
    hypotheses = window.hypotheses
    groups = equivalence_groups(bank)
    statistics = bank.comparable_statistics(residual)
    members: dict[int, list[int]] = {}
    for place in np.flatnonzero(groups >= 0):
        if rows is None or _enters(hypotheses[place], rows):
            members.setdefault(int(groups[place]), []).append(int(place))
    highest = {group: float(statistics[places].max()) for group, places in members.items()}
    order = sorted(highest, key=lambda group: -highest[group])
    explanations = [_explanation(hypotheses, bank, residual, statistics, members[group]) for group in order]
    explanations.sort(key=lambda one: (not one.possible, -one.leading.score))
    return _compared(explanations[:limit], bank, {one.key: i for i, one in enumerate(hypotheses)})


def beside_found(window: Window, found: Sequence[str]) -> tuple[Vector, Bank]:
    """w and the bank beside the accepted faults, their sizes left free."""
    if not found:
        return window.whitening.residual, window.bank
    basis = orthonormal_basis(found_columns(window, found))
    return project(window.whitening.residual, basis), project_bank(window.bank, basis)


def found_columns(window: Window, found: Sequence[str]) -> Matrix:
    """Whitened columns of the accepted faults side by side (no column if there is none)."""
    columns = [window.bank.columns_of(window.place(key)) for key in found]
    return np.hstack([np.zeros((len(window.positions), 0)), *columns])


def estimate(hypothesis: Hypothesis, fit: LikelihoodRatio, comparable: float, *, settled: bool = False) -> Estimate:
    """Weigh the slips of one tested hypothesis; below the level that names a candidate they are not asked.

    A size not yet `settled` by rebuilding its gauge may be off by several per cent, so a right value just outside
    its limits is not yet called impossible.
    """
    evidence, possible = NO_EVIDENCE, True
    if comparable > NEIGHBOUR_LEVEL:
        if hypothesis.written is not None:
            evidence = weigh_written(hypothesis.written, fit.size, fit.uncertainty)
            slack = 0.0 if settled else _ONE_STEP_SLACK * abs(fit.size)
            possible = is_possible(hypothesis.written, fit.size, math.hypot(fit.uncertainty, slack))
        elif hypothesis.slips:
            evidence = weigh_slips(hypothesis.slips, fit.size, fit.uncertainty, hypothesis.size_range)
    score = comparable + evidence.two_ln + 2.0 * math.log(hypothesis.prior_odds)
    return Estimate(hypothesis, fit, comparable, evidence, score, possible)


def not_separated(explanations: Sequence[Explanation], chosen: Explanation) -> list[Explanation]:
    """Rivals that have to be shown beside the chosen one: T within 2 ln 20 of it, or above it."""
    floor = chosen.comparable - NOT_SEPARATED
    return [one for one in explanations if one is not chosen and one.comparable >= floor]


def _explanation(
    hypotheses: Sequence[Hypothesis], bank: Bank, residual: Vector, statistics: Vector, places: list[int]
) -> Explanation:
    estimates = [estimate(hypotheses[place], bank.test(place, residual), float(statistics[place])) for place in places]
    estimates = sorted(estimates, key=lambda one: one.hypothesis.kind not in _LOSSES)
    leading = max(estimates, key=lambda one: (one.possible, one.score))
    return Explanation(leading, tuple(estimates), separated=True, rho=1.0, probability_best_above=0.5)


def _compared(explanations: list[Explanation], bank: Bank, places: dict[str, int]) -> list[Explanation]:
    if not explanations:
        return []
    best = explanations[0]
    best_place = places[best.leading.hypothesis.key]
    floor = best.comparable - NOT_SEPARATED
    compared = [replace(best, separated=all(one.comparable < floor for one in explanations[1:]))]
    for one in explanations[1:]:
        rho = bank_cosine(bank, best_place, places[one.leading.hypothesis.key])
        compared.append(
            replace(
                one,
                separated=one.comparable < floor,
                rho=rho,
                probability_best_above=probability_ranked_above(best.comparable, rho),
            )
        )
    return compared


def _enters(hypothesis: Hypothesis, rows: Collection[str]) -> bool:
    return any(not column.keys().isdisjoint(rows) for column in hypothesis.columns)
