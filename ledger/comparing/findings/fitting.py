"""How well one explanation fits beside another, in words that a manager can judge.

T says how much better the figures close with an explanation: the difference of two T is twice the logarithm of their
likelihood ratio. So the words go by that ratio: below twenty to one two explanations are not told apart, as in the
search itself (`levels.NOT_SEPARATED`); from a thousand to one on one fits far better. It is a measure of fit and no
probability that somebody did wrong. The scale of words is our own.
"""

from __future__ import annotations

import math
from enum import StrEnum
from typing import Final

from ledger.comparing.statistics.faults.levels import NOT_SEPARATED

FAR_APART: Final = 2.0 * math.log(1000.0)


class Fit(StrEnum):
    """How one explanation stands to another."""

    FAR_BETTER = "far better"
    BETTER = "better"
    AS_WELL = "about as well"
    LESS_WELL = "less well"
    FAR_LESS_WELL = "far less well"


def fit_beside(statistic: float, other: float) -> Fit:
    """How well an explanation with this T fits beside another with that one; a limit belongs to the wider word."""
    apart = statistic - other
    if abs(apart) < NOT_SEPARATED:
        return Fit.AS_WELL
    if apart > 0:
        return Fit.FAR_BETTER if apart >= FAR_APART else Fit.BETTER
    return Fit.FAR_LESS_WELL if -apart >= FAR_APART else Fit.LESS_WELL
