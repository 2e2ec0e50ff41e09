"""Finds several faults, one after another.

While the T of any explanation is over the level, the best one is accepted. With it are kept the explanations that fit
as well, the rivals that the figures do not separate from it, and the row at which its T first passed the level. Where
it is a reading, its right value goes into the rows before anything further is tested: slopes and table factors change
over a large error, and one linear step would leave a remainder that looks like a second fault. The size of a loss, a
movement or an instrument's error stays free instead. Once nothing is over the level all are fitted together, and those
that no longer stand are dropped. Sizes are in the unit of their hypothesis; T has none. Nothing is posted: these are
explanations offered to a person.

Source: Narasimhan and Mah, AIChE J. 33 (1987), for finding faults one by one; Jiang and Bagajewicz, Ind. Eng. Chem.
Res. 38 (1999), for estimating all found faults together.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np
from msgspec import structs

from ledger.comparing.statistics.algebra.assembly import Window, dense, open_window, row_positions
from ledger.comparing.statistics.algebra.problem import FaultKind, Hypothesis, Problem
from ledger.comparing.statistics.algebra.projection import FollowsFromFound
from ledger.comparing.statistics.charts.running import first_row_over
from ledger.comparing.statistics.faults.compensation import JointFit, fit_jointly, weakest
from ledger.comparing.statistics.faults.levels import NOT_SEPARATED
from ledger.comparing.statistics.faults.likelihood import FINDING_LEVEL, LikelihoodRatio
from ledger.comparing.statistics.faults.pairs import masked_pair
from ledger.comparing.statistics.faults.ranking import (
    Estimate,
    Explanation,
    estimate,
    found_columns,
    not_separated,
    rank_window,
)
from ledger.comparing.statistics.faults.slips import EVIDENCE_LIMIT, SlipEvidence, nearest_possible_size

_MOST_FAULTS = 10
_MOST_CONTENDERS = 8
_MOST_STEPS = 5
# A correction has settled when the remainder is this small a part of its uncertainty.
_SETTLED = 0.1


class ImpossibleReading(ValueError):
    """A rebuild was asked for a right value that cannot be: outside the table, or a book below zero."""


@dataclass(frozen=True, slots=True)
class Accepted:
    """A fault taken as true for the time being; `applied` (written − right) is what a reading is corrected by."""

    hypothesis: Hypothesis
    applied: float

    @property
    def right_value(self) -> float | None:
        """The reading's corrected value, where the written one is known."""
        written = self.hypothesis.written
        return None if written is None else written.value - self.applied


class Rebuild(Protocol):
    """Rows and columns of the original problem with every accepted reading corrected by its `applied`.

    Losses, movements and instruments are left as they are (their `applied` is 0: their size stays free). Keys must not
    change. Raise ImpossibleReading when a corrected value cannot be.
    """

    def __call__(self, problem: Problem, accepted: Sequence[Accepted], /) -> Problem: ...


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault found. `fit` is its part of the joint fit of all faults, in the units of its hypothesis.

    `explanation` is how it stood when found, with all that fit equally well; `rivals` were not separated then, and
    `apart` is the T by which it led the best of all that was (None where nothing else could be).
    `first_passed` is the row at which T first passed the level (None for one of a masked pair).
    """

    hypothesis: Hypothesis
    fit: LikelihoodRatio
    evidence: SlipEvidence
    explanation: Explanation
    rivals: tuple[Explanation, ...]
    first_passed: str | None
    applied: float
    apart: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Findings:
    """Faults in the order found, those dropped by the joint fit, and what is left of γ beside the faults."""

    faults: tuple[Fault, ...]
    dropped: tuple[Fault, ...]
    remaining: float
    degrees_of_freedom: int
    level: float
    problem: Problem


def rebuild_linearly(problem: Problem, accepted: Sequence[Accepted], /) -> Problem:
    """The simplest rebuild: each accepted reading's column times `applied` taken out of the rows."""
    readings = [one for one in accepted if one.hypothesis.kind is FaultKind.READING]
    columns = dense([one.hypothesis.columns[0] for one in readings], row_positions(problem))
    moved = columns @ np.array([one.applied for one in readings])
    rows = [
        structs.replace(row, residual=row.residual - float(shift))
        for row, shift in zip(problem.rows, moved, strict=True)
    ]
    return replace(problem, rows=rows)


def find_faults(
    problem: Problem,
    rebuild: Rebuild = rebuild_linearly,
    level: float = FINDING_LEVEL,
    most: int = _MOST_FAULTS,
) -> Findings:
    """Find the faults of a window one by one, at most `most`, each with T over `level` (one-column scale).

    Raises ProblemError if the window, or a rebuilt one, cannot be whitened.
    """
    found: list[Fault] = []
    while len(found) < most:
        window = open_window(rebuild(problem, _accepted(found)) if found else problem)
        ranking = rank_window(window, _keys(found))
        fresh = _next_fault(problem, window, found, ranking, rebuild, level)
        if not fresh:
            fresh = _next_pair(problem, window, found, ranking, rebuild, level)
        if not fresh:
            break
        found += fresh
    return _settled(problem, found, rebuild, level)


def settled_alone(problem: Problem, member: Estimate, rebuild: Rebuild) -> Estimate | None:
    """An estimate with its size settled by rebuilding at the corrected value, nothing else being wrong; None if that
    value cannot be."""
    return _corrected(problem, [], member, rebuild)


def _next_fault(
    problem: Problem,
    window: Window,
    found: list[Fault],
    ranking: list[Explanation],
    rebuild: Rebuild,
    level: float,
) -> list[Fault]:
    over = [one for one in ranking if one.comparable > level]
    if not over:
        return []
    floor = max(one.comparable for one in over) - 2.0 * EVIDENCE_LIMIT
    contenders = [
        (member, explanation)
        for explanation in over
        for member in explanation.members
        if explanation.comparable >= floor and member.possible
    ]
    contenders.sort(key=lambda pair: (-round(pair[0].comparable, 6), -pair[0].score))
    settled: list[tuple[Estimate, Explanation]] = []
    for member, explanation in contenders:
        if len(settled) == _MOST_CONTENDERS:
            break
        corrected = _corrected(problem, found, member, rebuild)
        if corrected is not None and corrected.possible:
            settled.append((corrected, explanation))
    if not settled:
        return []
    chosen, explanation = _earliest_lasting(window, found, max(settled, key=_score), over, level)
    columns = window.bank.columns_of(window.place(chosen.hypothesis.key))
    row = first_row_over(window.whitening.residual, columns, level, found_columns(window, _keys(found)))
    first_passed = None if row is None else window.row_keys()[row]
    return [_fault(chosen, explanation, ranking, first_passed)]


def _next_pair(
    problem: Problem,
    window: Window,
    found: list[Fault],
    ranking: list[Explanation],
    rebuild: Rebuild,
    level: float,
) -> list[Fault]:
    pair = masked_pair(window, _keys(found), level)
    if pair is None:
        return []
    by_key = {member.hypothesis.key: one for one in ranking for member in one.members}
    split = len(pair.first.columns)
    fresh = []
    for hypothesis, size, uncertainty in (
        (pair.first, pair.fit.sizes[0], pair.fit.uncertainties[0]),
        (pair.second, pair.fit.sizes[split], pair.fit.uncertainties[split]),
    ):
        fit = LikelihoodRatio((size / uncertainty) ** 2, 1, (size,), (uncertainty,))
        chosen = estimate(hypothesis, fit, fit.statistic)
        if not chosen.possible:
            return []
        fresh.append(_fault(chosen, by_key[hypothesis.key], ranking, None))
    try:
        rebuild(problem, _accepted([*found, *fresh]))
    except ImpossibleReading:
        return []
    return fresh


def _corrected(problem: Problem, found: list[Fault], member: Estimate, rebuild: Rebuild) -> Estimate | None:
    """The estimate with its size settled by rebuilding at the corrected value; None if that value cannot be."""
    if member.hypothesis.kind is not FaultKind.READING:
        return member
    key = member.hypothesis.key
    keys = (*_keys(found), key)
    applied, fit = _possible_size(member.hypothesis, member.fit.size), member.fit
    for _ in range(_MOST_STEPS):
        accepted = [*_accepted(found), Accepted(member.hypothesis, applied)]
        try:
            window = open_window(rebuild(problem, accepted), only=keys)
            joint = fit_jointly(window, keys, {key: applied}).fits[key]
        except (ImpossibleReading, FollowsFromFound):
            return None
        fit = LikelihoodRatio(member.fit.statistic, 1, joint.sizes, joint.uncertainties)
        before, applied = applied, _possible_size(member.hypothesis, fit.size)
        if abs(applied - before) <= _SETTLED * fit.uncertainty:
            break
    return estimate(member.hypothesis, fit, member.comparable, settled=True)


def _possible_size(hypothesis: Hypothesis, size: float) -> float:
    return size if hypothesis.written is None else nearest_possible_size(hypothesis.written, size)


def _earliest_lasting(
    window: Window,
    found: list[Fault],
    best: tuple[Estimate, Explanation],
    over: list[Explanation],
    level: float,
) -> tuple[Estimate, Explanation]:
    """Of lasting losses of several operations the one that signalled first: the others may be its shadow."""
    if best[0].hypothesis.kind is not FaultKind.LASTING_LOSS:
        return best
    families = {best[0].hypothesis.family: best}
    for explanation in sorted(over, key=lambda one: -one.comparable):
        for member in explanation.members:
            if member.hypothesis.kind is FaultKind.LASTING_LOSS:
                families.setdefault(member.hypothesis.family, (member, explanation))
    free = found_columns(window, _keys(found))

    def signalled(pair: tuple[Estimate, Explanation]) -> float:
        columns = window.bank.columns_of(window.place(pair[0].hypothesis.key))
        row = first_row_over(window.whitening.residual, columns, level, free)
        return math.inf if row is None else row

    return min(families.values(), key=signalled)


def _settled(problem: Problem, found: list[Fault], rebuild: Rebuild, level: float) -> Findings:
    standing, dropped = list(found), list[Fault]()
    while True:
        current = rebuild(problem, _accepted(standing))
        window = open_window(current, only=_keys(standing))
        joint = fit_jointly(window, _keys(standing), {one.hypothesis.key: one.applied for one in standing})
        key = weakest(joint, level)
        if key is None:
            break
        dropped += [one for one in standing if one.hypothesis.key == key]
        standing = [one for one in standing if one.hypothesis.key != key]
    faults = tuple(_with_joint_fit(one, joint) for one in standing)
    return Findings(faults, tuple(dropped), joint.remaining, joint.degrees_of_freedom, level, current)


def _with_joint_fit(fault: Fault, joint: JointFit) -> Fault:
    fit = joint.fits[fault.hypothesis.key]
    weighed = estimate(fault.hypothesis, fit, fit.comparable, settled=True)
    return replace(fault, fit=fit, evidence=weighed.evidence)


def _fault(chosen: Estimate, explanation: Explanation, ranking: list[Explanation], first_passed: str | None) -> Fault:
    is_reading = chosen.hypothesis.kind is FaultKind.READING
    floor = explanation.comparable - NOT_SEPARATED
    beyond = [one.comparable for one in ranking if one.possible and one.comparable < floor]
    return Fault(
        hypothesis=chosen.hypothesis,
        fit=chosen.fit,
        evidence=chosen.evidence,
        explanation=explanation,
        rivals=tuple(not_separated(ranking, explanation)),
        first_passed=first_passed,
        applied=_possible_size(chosen.hypothesis, chosen.fit.size) if is_reading else 0.0,
        apart=explanation.comparable - max(beyond) if beyond else None,
    )


def _score(pair: tuple[Estimate, Explanation]) -> float:
    return pair[0].score


def _accepted(found: Sequence[Fault]) -> list[Accepted]:
    return [Accepted(one.hypothesis, one.applied) for one in found]


def _keys(found: Sequence[Fault]) -> tuple[str, ...]:
    return tuple(one.hypothesis.key for one in found)
