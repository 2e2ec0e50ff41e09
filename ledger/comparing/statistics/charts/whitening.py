"""Whitening: put residuals and columns on a scale where all directions have unit variance.

V = LL' once; then w = L⁻¹r and a = L⁻¹f by forward substitution. Row i of w is row i of r less its prediction from
the rows before, over the standard deviation L_ii of that prediction, so later rows never change earlier
values: new rows are appended to L, the old ones stay as they are.

Source: sequential form of material balances (Picard; the SITMUF page of sandialabs.github.io/MAPIT).
"""

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from ledger.comparing.statistics.algebra.arrays import Matrix, Vector

# Rows of L taken together: large enough for matrix products to carry the work, small enough to invert a block.
_BLOCK = 64
# Share of a row's own variance that must be left once the earlier rows are known.
_LEAST_VARIANCE_LEFT = 1e-12


class DependentRow(ValueError):
    """A row has no uncertainty of its own left once the rows before it are known, so it cannot be tested."""

    def __init__(self, position: int) -> None:
        self.position = position
        super().__init__(
            f"Row {position + 1} has no uncertainty of its own: give its readings a standard uncertainty, "
            "or leave it out if it repeats an earlier row."
        )


class Whitens(Protocol):
    """What knows w of all rows, and whitens columns as it whitened r."""

    @property
    def residual(self) -> Vector:
        """w of the rows, in time order."""

    def whiten(self, columns: Matrix) -> Matrix:
        """L⁻¹F for columns side by side, in the same shape."""


@dataclass(frozen=True, slots=True, eq=False)
class Whitening:
    """L, and with it the residuals w of the rows it was made from."""

    lower: Matrix
    residual: Vector

    @property
    def standard_deviations(self) -> Vector:
        """Standard deviation of each row given the rows before it, in the row's own unit."""
        return np.diag(self.lower).copy()

    def whiten(self, columns: Matrix) -> Matrix:
        """L⁻¹F for columns side by side (or a single column), in the same shape."""
        return forward_substitution(self.lower, columns)


def whiten(covariance: Matrix, residual: Vector) -> Whitening:
    """Factor V and whiten r. Raises DependentRow if V is not positive definite."""
    lower = root(np.asarray(covariance, dtype=np.float64), 0)
    return Whitening(lower, forward_substitution(lower, np.asarray(residual, dtype=np.float64)))


def forward_substitution(lower: Matrix, right: Matrix) -> Matrix:
    """Solve LX = R for lower triangular L, block by block."""
    rows = lower.shape[0]
    solved = np.array(right, dtype=np.float64, copy=True)
    for start in range(0, rows, _BLOCK):
        stop = min(start + _BLOCK, rows)
        if start:
            solved[start:stop] -= lower[start:stop, :start] @ solved[:start]
        solved[start:stop] = np.linalg.solve(lower[start:stop, start:stop], solved[start:stop])
    return solved


def root(covariance: Matrix, before: int, full_variances: Vector | None = None) -> Matrix:
    """L of the covariance that rows have once so many rows before them are known.

    `full_variances` are those the rows have by themselves; without them no rows come before. Raises DependentRow.
    """
    variances = np.diag(covariance) if full_variances is None else full_variances
    try:
        lower = np.asarray(np.linalg.cholesky(covariance), dtype=np.float64)
    except np.linalg.LinAlgError:
        raise DependentRow(before + _first_failing(covariance)) from None
    dependent = np.diag(lower) ** 2 <= _LEAST_VARIANCE_LEFT * variances
    if dependent.any():
        raise DependentRow(before + int(np.argmax(dependent)))
    return lower


def _first_failing(covariance: Matrix) -> int:
    low, high = 0, len(covariance)
    while high - low > 1:
        middle = (low + high) // 2
        try:
            np.linalg.cholesky(covariance[:middle, :middle])
            low = middle
        except np.linalg.LinAlgError:
            high = middle
    return high - 1
