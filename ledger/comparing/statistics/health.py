"""Health of V: whether the stated uncertainties are the ones the plant really has.

Where nothing is wrong, w has a standard deviation of about 1, and γ is about the number of rows. Far above that the
uncertainties are stated too small, and findings may be false. Far below they are stated too large, and small losses
stay unseen. Until V is set right no finding should be believed.

Source: γ is chi-square with as many degrees of freedom as there are rows (Narasimhan and Jordache, Data Reconciliation
and Gross Error Detection, 2000, chapter 7, global test). The limits are common practice, no source.
"""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from ledger.comparing.statistics.algebra.arrays import Vector
from ledger.comparing.statistics.algebra.chi_square import upper_tail
from ledger.comparing.statistics.faults.likelihood import global_statistic

_LEAST_SPREAD, _MOST_SPREAD = 0.85, 1.15
_LEAST_RATIO = 0.8
# With fewer rows the spread of w strays beyond the limits by chance alone.
FEWEST_ROWS = 90


class UncertaintyFit(StrEnum):
    TOO_FEW_ROWS = "too few rows"
    FITS = "fits"
    STATED_TOO_SMALL = "uncertainties stated too small"
    STATED_TOO_LARGE = "uncertainties stated too large"


@dataclass(frozen=True, slots=True)
class Health:
    """γ with its rows and tail probability, γ/rows, the standard deviation of w, and what that says of V."""

    global_statistic: float
    rows: int
    tail_probability: float
    ratio: float
    standard_deviation: float
    verdict: UncertaintyFit


def health(residual: Vector) -> Health:
    """Judge V by the whitened residuals of clean rows. Raises ValueError for fewer than two rows."""
    rows = len(residual)
    if rows < 2:
        raise ValueError("The uncertainties cannot be judged from fewer than two rows.")
    statistic = global_statistic(residual)
    spread = float(np.std(residual, ddof=1))
    ratio = statistic / rows
    if rows < FEWEST_ROWS:
        verdict = UncertaintyFit.TOO_FEW_ROWS
    elif spread > _MOST_SPREAD:
        verdict = UncertaintyFit.STATED_TOO_SMALL
    elif spread < _LEAST_SPREAD or ratio < _LEAST_RATIO:
        verdict = UncertaintyFit.STATED_TOO_LARGE
    else:
        verdict = UncertaintyFit.FITS
    return Health(statistic, rows, upper_tail(statistic, rows), ratio, spread, verdict)
