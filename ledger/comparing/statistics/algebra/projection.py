"""Leaves sizes of found faults free: of what is tested next only the part at right angles to their columns counts.

Each found fault keeps an unknown size that is estimated again with every new one, all together. Taking b·f out of the
rows once and going on would leave the error of the first estimate behind; leaving a row out would throw away the second
half of what the fault did. All columns are whitened and have no unit.

Source: serial identification with collective compensation, Jiang and Bagajewicz, Ind. Eng. Chem. Res. 38 (1999).
"""

from collections.abc import Sequence

import numpy as np

from ledger.comparing.statistics.algebra.arrays import Matrix, Vector
from ledger.comparing.statistics.faults.likelihood import LEAST_LENGTH_LEFT


class FollowsFromFound(ValueError):
    """A further fault would do nothing that the faults already found cannot do together."""


def orthonormal_basis(columns: Matrix) -> Matrix:
    """Q of the found columns, side by side in the order found.

    Raises FollowsFromFound if less than a billionth of some column's length is left beside those before it.
    """
    lengths = np.linalg.norm(columns, axis=0)
    basis, root = np.linalg.qr(columns)
    if (np.abs(np.diag(root)) < LEAST_LENGTH_LEFT * lengths).any() or not lengths.all():
        raise FollowsFromFound(
            "This fault has no effect of its own beside those already found: "
            "the figures cannot tell them apart as a set."
        )
    return basis


def project(columns: Matrix, basis: Matrix) -> Matrix:
    """What lies at right angles to the basis; for w, for one column or for many side by side."""
    return columns - basis @ (basis.T @ columns)


def left_free(residual: Vector, columns: Matrix, found: Sequence[Matrix]) -> tuple[Vector, Matrix]:
    """w and columns beside the whitened columns of the faults found, their sizes left free."""
    if not found:
        return residual, columns
    basis = orthonormal_basis(np.hstack([one.reshape(len(residual), -1) for one in found]))
    return project(residual, basis), project(columns, basis)
