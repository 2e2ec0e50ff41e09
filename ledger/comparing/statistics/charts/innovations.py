"""Innovations: each row less what earlier rows predict of it; the only sequence a chart may run on.

Raw differences must not be charted: neighbours share gauges, so they are correlated and a chart's run lengths
are wrong. w are independent with unit variance if all is well, and a value once charted stays, except by a
correction, which starts a new run of the chart. `deviation` is the innovation in the row's own unit
(accountancy's ITMUF), `standardised` is w (SITMUF).

Source: Picard, digital.library.unt.edu/ark:/67531/metadc1086101; sandialabs.github.io/MAPIT, SITMUF and CUMUF pages.
"""

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np

from ledger.comparing.statistics.algebra.arrays import Matrix, Vector
from ledger.comparing.statistics.algebra.problem import Problem
from ledger.comparing.statistics.charts.whitening import Whitening


@dataclass(frozen=True, slots=True)
class Innovation:
    """One row's news: in the row's unit, its standard deviation, and the ratio of the two."""

    row: str
    deviation: float
    standard_deviation: float
    standardised: float


@dataclass(frozen=True, slots=True, eq=False)
class CumulativeDifference:
    """Running sum of differences with its standard uncertainty, in the rows' unit, and the ratio.

    Strongest against a loss spread evenly from the start, weakest against one that starts late.
    """

    total: Vector
    standard_uncertainty: Vector
    ratio: Vector


def innovations(problem: Problem, whitening: Whitening, rows: Collection[str] | None = None) -> list[Innovation]:
    """Innovations in time order, all rows or only the named ones (one type of operation, one vessel's gaps)."""
    deviations = whitening.standard_deviations
    return [
        Innovation(row.key, float(value * deviation), float(deviation), float(value))
        for row, value, deviation in zip(problem.rows, whitening.residual, deviations, strict=True)
        if rows is None or row.key in rows
    ]


def cumulative_difference(differences: Vector, covariance: Matrix) -> CumulativeDifference:
    """Sum of differences up to each row, with the uncertainty its covariance gives it."""
    total = np.cumsum(differences)
    variance = np.diag(np.cumsum(np.cumsum(covariance, axis=0), axis=1))
    uncertainty = np.sqrt(variance)
    return CumulativeDifference(total, uncertainty, total / uncertainty)
