"""From a described window to its numbers: r, the columns, V, and both whitened.

V = J diag(u²) J' + own spreads + doubt about the usual loss + calibration of instruments. J has the column of each
reading and u its standard uncertainty, in the reading's own unit; a reading that stands in two rows so gives them their
covariance. V comes from certificates, resolutions and the usual loss; it is never estimated from the residuals under
test.

Source: law of propagation with correlated inputs, JCGM 100:2008 5.1.3 and 5.2.
"""

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass

import numpy as np

from ledger.comparing.statistics.algebra.arrays import Matrix, Vector
from ledger.comparing.statistics.algebra.problem import (
    Column,
    Hypothesis,
    Problem,
    ProblemError,
    all_hypotheses,
    instrument_column,
)
from ledger.comparing.statistics.charts.sequential import SequentialWhitening, whiten_in_blocks
from ledger.comparing.statistics.charts.whitening import DependentRow, Whitening, whiten
from ledger.comparing.statistics.faults.bank import Bank, make_bank


@dataclass(frozen=True, slots=True, eq=False)
class Window:
    """A problem ready for testing: its rows' positions, V, its whitening and the whitened bank of hypotheses."""

    problem: Problem
    positions: Mapping[str, int]
    hypotheses: tuple[Hypothesis, ...]
    covariance: Matrix
    whitening: Whitening
    bank: Bank

    def row_keys(self) -> list[str]:
        """Row keys in the order of r and w."""
        return list(self.positions)

    def place(self, key: str) -> int:
        """Place of a hypothesis in the bank. Raises KeyError if there is none of that key."""
        for place, hypothesis in enumerate(self.hypotheses):
            if hypothesis.key == key:
                return place
        raise KeyError(key)


def residuals(problem: Problem) -> Vector:
    """r, in time order."""
    return np.array([row.residual for row in problem.rows], dtype=np.float64)


def row_positions(problem: Problem) -> dict[str, int]:
    """Row key -> place in r."""
    return {row.key: position for position, row in enumerate(problem.rows)}


def dense(columns: Sequence[Column], positions: Mapping[str, int]) -> Matrix:
    """Columns side by side, one line a row."""
    matrix = np.zeros((len(positions), len(columns)))
    for place, column in enumerate(columns):
        for row, sensitivity in column.items():
            matrix[positions[row], place] += sensitivity
    return matrix


def covariance(problem: Problem) -> Matrix:
    """V of the window. Raises ProblemError for a negative uncertainty."""
    total = _outer_products(_errors(problem), row_positions(problem))
    total[np.diag_indices_from(total)] += _spreads(problem) ** 2
    return total


def _errors(problem: Problem) -> Iterator[tuple[Column, float]]:
    """Every independent error in the rows: its column and its standard uncertainty, where it has one."""
    by_key = {reading.key: reading.column for reading in problem.readings} if problem.instruments else {}
    for reading in problem.readings:
        yield reading.column, _not_negative(reading.key, reading.standard_uncertainty)
    for usual in problem.usual_losses:
        yield usual.charges, _not_negative(usual.key, usual.doubt)
    for instrument in problem.instruments:
        uncertainty = _not_negative(instrument.key, instrument.standard_uncertainty)
        yield instrument_column(instrument, by_key), uncertainty


def _spreads(problem: Problem) -> Vector:
    return np.array([_not_negative(row.key, row.spread) for row in problem.rows])


def _outer_products(errors: Iterable[tuple[Column, float]], positions: Mapping[str, int]) -> Matrix:
    """Sum of u² f f' over the columns: JJ' of the columns scaled by their standard uncertainty."""
    there = [(column, scale) for column, scale in errors if scale]
    lengths = [len(column) for column, _ in there]
    rows = [positions[row] for column, _ in there for row in column]
    effects = np.array([value for column, _ in there for value in column.values()], dtype=np.float64)
    scaled = np.zeros((len(positions), len(there)))
    scaled[rows, np.repeat(np.arange(len(there)), lengths)] = effects * np.repeat(
        [scale for _, scale in there], lengths
    )
    product: Matrix = scaled @ scaled.T
    return product


def whiten_problem(problem: Problem) -> Whitening:
    """L and w of the window, without its bank. Raises ProblemError naming a row that cannot be tested."""
    return _whitened(problem, covariance(problem))


def whiten_stretch(problem: Problem) -> SequentialWhitening:
    """w of a long stretch of rows, and what whitens columns; L itself is not made. Raises as `whiten_problem`."""
    positions = row_positions(problem)
    columns = [
        {positions[row]: scale * value for row, value in column.items()} for column, scale in _errors(problem) if scale
    ]
    with _naming_the_row(problem):
        return whiten_in_blocks(columns, _spreads(problem), residuals(problem))


def open_window(problem: Problem, only: Collection[str] | None = None) -> Window:
    """Everything a ranking needs, computed once; with `only`, for the hypotheses of these keys alone.

    Raises ProblemError naming a row that cannot be tested.
    """
    positions = row_positions(problem)
    spread = covariance(problem)
    whitening = _whitened(problem, spread)
    hypotheses = tuple(all_hypotheses(problem, only))
    columns = [column for hypothesis in hypotheses for column in hypothesis.columns]
    bank = make_bank(
        whitening.whiten(dense(columns, positions)), [len(hypothesis.columns) for hypothesis in hypotheses]
    )
    return Window(problem, positions, hypotheses, spread, whitening, bank)


def _whitened(problem: Problem, spread: Matrix) -> Whitening:
    with _naming_the_row(problem):
        return whiten(spread, residuals(problem))


@contextmanager
def _naming_the_row(problem: Problem) -> Iterator[None]:
    try:
        yield
    except DependentRow as fault:
        row = problem.rows[fault.position]
        raise ProblemError(
            f"The row '{row.key}' has no uncertainty of its own: give its readings a standard uncertainty, "
            "or leave it out if it repeats an earlier row."
        ) from fault


def _not_negative(key: str, standard_uncertainty: float) -> float:
    if not standard_uncertainty >= 0.0:
        raise ProblemError(f"'{key}' has a standard uncertainty of {standard_uncertainty}; it cannot be negative.")
    return standard_uncertainty
