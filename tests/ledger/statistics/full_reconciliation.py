"""Reconciliation: the least change of all readings that closes every balance, and the two tests built on it.

It answers 'what would these figures look like if nothing had been lost'. The ledger keeps readings as typed; the
reconciled values are a view and nothing is posted from them. The plain nodal test is here for comparison with
published work only: it is weaker than T and can point at a neighbour, so no reading is named from it.

Readings y with variances σ², balances A y = 0. Source: Narasimhan and Jordache, Data Reconciliation and Gross
Error Detection (2000), chapters 1 and 7; Tamhane and Mah, Technometrics 27 (1985), for the measurement test.
"""

from dataclasses import dataclass

import numpy as np

from ledger.comparing.statistics.algebra.arrays import Matrix, Vector


@dataclass(frozen=True, slots=True, eq=False)
class Reconciliation:
    """Balances' residuals with their covariance, reconciled readings, and both tests (absolute values)."""

    residuals: Vector
    covariance: Matrix
    global_statistic: float
    reconciled: Vector
    nodal: Vector
    measurement: Vector


def reconcile(balances: Matrix, readings: Vector, variances: Vector) -> Reconciliation:
    """Reconcile readings to linear balances; variances in the readings' unit squared, all positive.

    A reading that enters no balance cannot be tested: its measurement test is 0. Raises numpy.linalg.LinAlgError if
    one balance follows from the others.
    """
    residual = balances @ readings
    covariance = (balances * variances) @ balances.T
    into_readings = variances[:, np.newaxis] * balances.T
    gain = np.linalg.solve(covariance, into_readings.T).T
    adjustment = gain @ residual
    adjustment_sd = np.sqrt(np.maximum(np.einsum("ij,ij->i", gain, into_readings), 0.0))
    measurement = np.divide(np.abs(adjustment), adjustment_sd, out=np.zeros_like(adjustment), where=adjustment_sd > 0.0)
    return Reconciliation(
        residuals=residual,
        covariance=covariance,
        global_statistic=float(residual @ np.linalg.solve(covariance, residual)),
        reconciled=readings - adjustment,
        nodal=np.abs(residual) / np.sqrt(np.diag(covariance)),
        measurement=measurement,
    )
