"""Statistics as the rows come in: T of a fault from the rows up to each one.

L is lower triangular, so a column whitened once gives T for data up to any row by running sums, in one pass.
With faults left free the sums become small matrices, one a row.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ledger.comparing.statistics.algebra.arrays import Matrix, Vector
from ledger.comparing.statistics.faults.likelihood import level_for_columns

# Squared lengths below this share of the full column are rounding, not evidence.
_LEAST_SQUARE_LEFT = 1e-12


@dataclass(frozen=True, slots=True, eq=False)
class Running:
    """w with the found columns left free beside whatever is tested: unit columns, and after every row the inverse of
    their inner products and the part of w that lies along them. All empty where nothing was found."""

    residual: Vector
    units: Matrix
    inverse: Matrix
    along: Matrix

    @classmethod
    def beside(cls, residual: Vector, found: Matrix | None = None) -> Running:
        """Prepares tests beside these whitened columns."""
        if found is None or not found.shape[1]:
            nothing = np.empty((len(residual), 0))
            return cls(residual, nothing, np.empty((len(residual), 0, 0)), nothing)
        units = found / np.linalg.norm(found, axis=0)
        inverse = _pseudo_inverse(np.cumsum(units[:, :, np.newaxis] * units[:, np.newaxis, :], axis=0))
        return cls(residual, units, inverse, np.cumsum(units * residual[:, np.newaxis], axis=0))

    def test(self, candidates: Matrix) -> tuple[Matrix, Matrix]:
        """T and b of each one-column candidate after every row. Both have one line a row and one column a candidate;
        they are 0 until the rows have something to say."""
        inner = np.cumsum(candidates * self.residual[:, np.newaxis], axis=0)
        square = np.cumsum(candidates**2, axis=0)
        least = np.maximum(_LEAST_SQUARE_LEFT * square, np.finfo(np.float64).tiny)
        if self.units.shape[1]:
            cross = np.cumsum(self.units[:, :, np.newaxis] * candidates[:, np.newaxis, :], axis=0)
            solved = self.inverse @ cross
            inner -= (self.along[:, np.newaxis, :] @ solved)[:, 0]
            square -= np.einsum("nkm,nkm->nm", cross, solved)
        size = np.divide(inner, square, out=np.zeros_like(inner), where=square > least)
        return size * inner, size


def running_statistics(residual: Vector, candidates: Matrix, found: Matrix | None = None) -> tuple[Matrix, Matrix]:
    """T and b of each one-column candidate after every row, beside the found columns left free.

    Candidates and found are whitened columns side by side; the rest as `Running.test`.
    """
    return Running.beside(residual, found).test(candidates)


def first_row_over(
    residual: Vector, columns: Matrix, one_column_level: float, found: Matrix | None = None
) -> int | None:
    """Position of the row at which T of a fault (one or several columns) first passed the level; None if never."""
    before = np.zeros(len(residual)) if found is None else _running_explained(residual, found)
    together = columns if found is None else np.hstack([found, columns])
    gained = _running_explained(residual, together) - before
    passed = np.flatnonzero(gained > level_for_columns(one_column_level, columns.shape[1]))
    return int(passed[0]) if len(passed) else None


def _running_explained(residual: Vector, columns: Matrix) -> Vector:
    if not columns.shape[1]:
        return np.zeros(len(residual))
    units = columns / np.linalg.norm(columns, axis=0)
    gram = _pseudo_inverse(np.cumsum(units[:, :, np.newaxis] * units[:, np.newaxis, :], axis=0))
    shares = np.cumsum(units * residual[:, np.newaxis], axis=0)
    explained: Vector = np.einsum("nk,nkl,nl->n", shares, gram, shares)
    return explained


def _pseudo_inverse(grams: Matrix) -> Matrix:
    inverse = np.linalg.pinv(grams, rcond=_LEAST_SQUARE_LEFT, hermitian=True)
    return np.asarray(inverse, dtype=np.float64)
