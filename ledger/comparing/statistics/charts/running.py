"""Statistics as the rows come in: T of a fault from the rows up to each one.

L is lower triangular, so a column whitened once gives T for data up to any row by running sums, in one pass.
With faults left free the sums become small matrices, one a row.
"""

import numpy as np

from ledger.comparing.statistics.algebra.arrays import Matrix, Vector
from ledger.comparing.statistics.faults.likelihood import level_for_columns

# Squared lengths below this share of the full column are rounding, not evidence.
_LEAST_SQUARE_LEFT = 1e-12


def running_statistics(residual: Vector, candidates: Matrix, found: Matrix | None = None) -> tuple[Matrix, Matrix]:
    """T and b of each one-column candidate after every row, beside the found columns left free.

    Candidates and found are whitened columns side by side. Both results have one line a row and one column a candidate;
    they are 0 until the rows have something to say.
    """
    inner = np.cumsum(candidates * residual[:, np.newaxis], axis=0)
    square = np.cumsum(candidates**2, axis=0)
    full = square.copy()
    if found is not None and found.shape[1]:
        units = found / np.linalg.norm(found, axis=0)
        gram = _pseudo_inverse(np.cumsum(units[:, :, np.newaxis] * units[:, np.newaxis, :], axis=0))
        cross = np.cumsum(units[:, :, np.newaxis] * candidates[:, np.newaxis, :], axis=0)
        shares = np.cumsum(units * residual[:, np.newaxis], axis=0)
        solved = gram @ cross
        inner -= np.einsum("nk,nkm->nm", shares, solved)
        square -= np.einsum("nkm,nkm->nm", cross, solved)
    left = square > _LEAST_SQUARE_LEFT * np.maximum(full, np.finfo(np.float64).tiny)
    size = np.divide(inner, square, out=np.zeros_like(inner), where=left)
    return size * inner, size


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
