"""Run lengths: how soon a CUSUM finds a shift, and how often it cries wolf.

The sum is cut into small steps between 0 and h and followed as a Markov chain; the value for infinitely small steps
is extrapolated from two chains. The average run length (ARL) is in runs of the operation, the shift
in standard deviations of z, one side, starting at 0 unless a head start is given.

Source: Brook and Evans, Biometrika 59 (1972) 539-549 (from memory), for the chain.
"""

from collections.abc import Iterable

import numpy as np

from ledger.comparing.statistics.algebra.arrays import Matrix, Vector
from ledger.comparing.statistics.algebra.chi_square import normal_cdf
from ledger.comparing.statistics.charts.charts import CusumSetting

_STATES = 120


def average_run_length(
    setting: CusumSetting, shift: float = 0.0, *, limit: float | None = None, head_start: bool = False
) -> float:
    """Mean number of runs until a one-sided signal; with `limit`, z is held within ± that many σ."""
    coarse, fine = (_mean_run_length(setting, shift, limit, head_start, states) for states in (_STATES, 2 * _STATES))
    if limit is not None:
        return fine
    return fine + (fine - coarse) / 3.0


def two_sided_average_run_length(setting: CusumSetting, shift: float = 0.0, *, limit: float | None = None) -> float:
    """Mean number of runs until either side signals: the rates of the two sides add."""
    sides = (average_run_length(setting, side, limit=limit) for side in (shift, -shift))
    return 1.0 / sum(1.0 / side for side in sides)


def signal_probability(setting: CusumSetting, runs: int, shift: float = 0.0, *, limit: float | None = None) -> float:
    """Probability of a one-sided signal within this many runs, starting at 0."""
    staying, _ = _chain(setting, shift, limit, 2 * _STATES)
    surviving: Vector = np.ones(len(staying))
    for _ in range(runs):
        surviving = staying @ surviving
    return 1.0 - float(surviving[0])


def false_signals(charts: Iterable[tuple[CusumSetting, int]], *, both_sides: bool = True) -> float:
    """False signals to expect over a period at most: the sum of runs/ARL over charts of (setting, runs).

    A figure for the settings page; sums that start from 0 signal less often at first.
    """
    sides = 2 if both_sides else 1
    return sum(sides * runs / average_run_length(setting) for setting, runs in charts)


def _mean_run_length(setting: CusumSetting, shift: float, limit: float | None, head_start: bool, states: int) -> float:
    staying, width = _chain(setting, shift, limit, states)
    lengths = np.linalg.solve(np.eye(states) - staying, np.ones(states))
    if not head_start:
        return float(lengths[0])
    return float(np.interp(setting.h / 2.0, np.arange(states) * width, lengths))


def _chain(setting: CusumSetting, shift: float, limit: float | None, states: int) -> tuple[Matrix, float]:
    """Probabilities of going from one value of S to another without a signal, and the width of a step.

    State j stands for S near j·width; state 0 gathers everything that falls to 0.
    """
    width = 2.0 * setting.h / (2 * states - 1)
    steps = np.arange(1 - states, states)
    # What z has to stay below for S to end under an edge depends only on how far apart the states are.
    below = np.array([_held_cdf(width * (step + 0.5) + setting.k, shift, limit) for step in steps])
    origin, target = np.indices((states, states))
    cumulative = below[target - origin + states - 1]
    staying = np.diff(cumulative, axis=1, prepend=0.0)
    return staying, width


def _held_cdf(value: float, shift: float, limit: float | None) -> float:
    if limit is not None:
        if value >= limit:
            return 1.0
        if value < -limit:
            return 0.0
    return normal_cdf(value - shift)
