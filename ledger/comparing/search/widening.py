"""Windows that can always be tested. Faults that are left free may explain a row completely; it is then widened.

A fault among others that look nearly like it may have almost any size. A row that it moves then follows from other
rows, as far as figures reach, and could not be tested. Such a row is given some spread of its own, that of a heel and
more where that is not enough, so that all other rows can be tested.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import replace
from typing import TypeVar

from msgspec import structs

from ledger.comparing.model.equations import HEEL_LPA
from ledger.comparing.statistics.algebra.assembly import Window, open_window, whiten_stretch
from ledger.comparing.statistics.algebra.problem import Problem, ProblemError
from ledger.comparing.statistics.charts.sequential import SequentialWhitening
from ledger.comparing.statistics.charts.whitening import DependentRow

_MOST_WIDENED = 20
Made = TypeVar("Made")


def opened(problem: Problem, only: Collection[str] | None = None) -> Window:
    """The window of a problem. A row that follows from the rows before it is given some spread of its own.

    Several faults left free together can explain a row completely. Raises ProblemError for other causes.
    """
    return _widening(problem, lambda one: open_window(one, only))


def whitened(problem: Problem) -> SequentialWhitening:
    """w of a long stretch of rows, which are widened where they have to be."""
    return _widening(problem, whiten_stretch)


def _widening(problem: Problem, make: Callable[[Problem], Made]) -> Made:
    for _ in range(_MOST_WIDENED):
        try:
            return make(problem)
        except ProblemError as refusal:
            if not isinstance(refusal.__cause__, DependentRow):
                raise
            rows = list(problem.rows)
            row = rows[refusal.__cause__.position]
            rows[refusal.__cause__.position] = structs.replace(row, spread=max(10.0 * row.spread, HEEL_LPA))
            problem = replace(problem, rows=rows)
    return make(problem)
