"""Sizes of all found faults estimated together, and which of them no longer stand.

A reading that was accepted as wrong has been corrected in the rows, so there its column finds only what is left of the
error. What was taken out before (`applied`, in the unit of the reading) is added to that, and then it is asked whether
the fault still stands. Sizes are in the units of their hypotheses; T has none.

Source: Jiang and Bagajewicz, Ind. Eng. Chem. Res. 38 (1999).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ledger.comparing.statistics.algebra.arrays import Matrix, Vector
from ledger.comparing.statistics.algebra.assembly import Window
from ledger.comparing.statistics.algebra.projection import orthonormal_basis
from ledger.comparing.statistics.faults.likelihood import LikelihoodRatio, global_statistic
from ledger.comparing.statistics.faults.ranking import found_columns


@dataclass(frozen=True, slots=True, eq=False)
class JointFit:
    """All found faults fitted together: T, size and uncertainty of each by key, and what remains of γ.

    T of one fault here is the fall of γ it alone is responsible for, all the others staying free.
    """

    fits: Mapping[str, LikelihoodRatio]
    remaining: float
    degrees_of_freedom: int


def fit_jointly(window: Window, found: Sequence[str], applied: Mapping[str, float] | None = None) -> JointFit:
    """Fit the faults of these keys together in a window; `applied` are sizes already taken out of its rows.

    Raises FollowsFromFound if they depend on one another.
    """
    residual = window.whitening.residual
    columns = found_columns(window, found)
    basis = orthonormal_basis(columns)
    inverse = np.linalg.inv(basis.T @ columns)
    shares = basis.T @ residual
    sizes, covariance = inverse @ shares, inverse @ inverse.T
    fits: dict[str, LikelihoodRatio] = {}
    start = 0
    for key in found:
        stop = start + len(window.hypotheses[window.place(key)].columns)
        own = sizes[start:stop].copy()
        own[0] += (applied or {}).get(key, 0.0)
        fits[key] = _responsible(own, covariance[start:stop, start:stop])
        start = stop
    remaining = global_statistic(residual - basis @ shares)
    return JointFit(fits, remaining, len(residual) - columns.shape[1])


def weakest(fit: JointFit, level: float) -> str | None:
    """Key of the fault with the least T in the joint fit, if that is under the level (one-column scale)."""
    if not fit.fits:
        return None
    key = min(fit.fits, key=lambda one: fit.fits[one].comparable)
    return key if fit.fits[key].comparable <= level else None


def _responsible(sizes: Vector, covariance: Matrix) -> LikelihoodRatio:
    statistic = float(sizes @ np.linalg.solve(covariance, sizes))
    return LikelihoodRatio(
        statistic,
        len(sizes),
        tuple(float(size) for size in sizes),
        tuple(float(u) for u in np.sqrt(np.diag(covariance))),
    )
