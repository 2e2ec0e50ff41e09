"""What is wrong in a block: its best fault, with all that cannot be told apart from it measured anew."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace

from ledger.comparing.model.balance_model import BalanceModel, WrittenOf
from ledger.comparing.search.remeasuring import Remeasure, rebuild_with
from ledger.comparing.search.widening import opened
from ledger.comparing.search.windows import window_problem
from ledger.comparing.statistics.algebra.problem import Problem, ProblemError
from ledger.comparing.statistics.faults.faults import Fault, Rebuild, find_faults, settled_alone

_MOST_MEMBERS = 8


def highest_statistic(problem: Problem, only: Collection[str] | None = None) -> float:
    """The largest T of anything that could explain a window, or of these hypotheses, on the scale of one column."""
    window = opened(problem, only)
    return window.bank.highest_comparable(window.whitening.residual)


def faults_in(block: BalanceModel, written: WrittenOf, remeasure: Remeasure) -> Sequence[Fault]:
    """The best fault of a block; none where it cannot be tested."""
    keys = block.equations.keys()
    problem = window_problem(block, keys, written)

    def as_problem(model: BalanceModel) -> Problem:
        return window_problem(model, keys, written)

    rebuild = rebuild_with(block, as_problem, remeasure)
    try:
        # One at a time: a second fault may have its best explanation outside this window.
        faults = find_faults(problem, rebuild, most=1).faults
    except ProblemError:
        return ()
    return tuple(_with_settled_members(fault, problem, rebuild) for fault in faults)


def _with_settled_members(fault: Fault, problem: Problem, rebuild: Rebuild) -> Fault:
    """Measures the right value anew for every explanation that cannot be told apart from the fault."""
    members = fault.explanation.members
    if not 1 < len(members) <= _MOST_MEMBERS:
        return fault
    settled = []
    for member in members:
        try:
            again = settled_alone(problem, member, rebuild) if member.possible else member
        except ProblemError:
            again = member
        settled.append(again if again is not None else replace(member, possible=False))
    return replace(fault, explanation=replace(fault.explanation, members=tuple(settled)))
