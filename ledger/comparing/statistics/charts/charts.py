"""Charts for a small loss that always leans one way: two-sided tabular CUSUM and EWMA.

z are innovations, one a run, without unit: about zero, with a standard deviation of one, where nothing is lost beyond
the usual. The sum S grows by each z less k, never below 0: S_i = max(0, S_{i−1} + z_i − k), with a signal when S > h. A
second sum does the same for gains, because a lasting gain is a fault too. k is half the shift looked for. z are held
within ±3, so that one slip alone cannot signal. A drift is dated from the run after S was last 0, which is early by a
few runs. Two settings stand side by side, a slow one for a protracted loss and a quick one for an abrupt loss.

Source: Page, Biometrika 41 (1954); NIST/SEMATECH e-Handbook 6.3.2.3 (CUSUM) and 6.3.2.4 (EWMA).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

# z beyond this is a slip, not a drift.
LIMIT_OF_Z = 3.0
# Fewer runs than this give no verdict, only 'watching'.
FEWEST_RUNS = 8
# A loss lasts if it shows in this many runs.
FEWEST_LASTING = 3


@dataclass(frozen=True, slots=True)
class CusumSetting:
    """Reference value k and decision interval h, in standard deviations of z."""

    k: float
    h: float


PROTRACTED = CusumSetting(0.25, 8.01)
ABRUPT = CusumSetting(1.0, 3.5)
SINGLE_CHART = CusumSetting(0.5, 5.0)


@dataclass(frozen=True, slots=True)
class CusumSignal:
    """A signal: whether on the loss side, at which run it came and from which run the drift is dated (from 0)."""

    loss: bool
    run: int
    onset: int


@dataclass(frozen=True, slots=True)
class Cusum:
    """Both sums after every run and every first crossing; `watching` while the runs are too few for a verdict."""

    upper: tuple[float, ...]
    lower: tuple[float, ...]
    signals: tuple[CusumSignal, ...]
    watching: bool


@dataclass(frozen=True, slots=True)
class Ewma:
    """The weighted average after every run, its limits for a long run, and the runs outside them (from 0)."""

    values: tuple[float, ...]
    lower_limit: float
    upper_limit: float
    outside: tuple[int, ...]


def cusum(
    z: Sequence[float],
    setting: CusumSetting = SINGLE_CHART,
    *,
    limit: float | None = LIMIT_OF_Z,
    head_start: bool = False,
    restart: bool = False,
) -> Cusum:
    """Run both sums over z; positive z is loss.

    With `head_start` the sums begin at h/2 (fast initial response), for use after a reset. With `restart` a sum
    begins again after its signal; otherwise it goes on and only its crossing counts.
    """
    held = [value if limit is None else max(-limit, min(limit, value)) for value in z]
    upper, losses = _one_side(held, setting, head_start, restart)
    lower, gains = _one_side([-value for value in held], setting, head_start, restart)
    signals = [CusumSignal(True, run, onset) for run, onset in losses]
    signals += [CusumSignal(False, run, onset) for run, onset in gains]
    signals.sort(key=lambda signal: signal.run)
    return Cusum(tuple(upper), tuple(lower), tuple(signals), len(held) < FEWEST_RUNS)


def ewma(values: Sequence[float], weight: float, centre: float, standard_deviation: float, width: float = 3.0) -> Ewma:
    """E_i = λ·x_i + (1 − λ)·E_{i−1} from E_0 = centre, limits centre ± width·σ·√(λ/(2 − λ)).

    Raises ValueError unless the weight λ lies in 0 < λ ≤ 1.
    """
    if not 0.0 < weight <= 1.0:
        raise ValueError("The weight of a moving average lies between 0 and 1.")
    average, averages = centre, []
    for value in values:
        average = weight * value + (1.0 - weight) * average
        averages.append(average)
    reach = width * standard_deviation * math.sqrt(weight / (2.0 - weight))
    outside = tuple(run for run, one in enumerate(averages) if abs(one - centre) > reach)
    return Ewma(tuple(averages), centre - reach, centre + reach, outside)


def _one_side(
    z: Sequence[float], setting: CusumSetting, head_start: bool, restart: bool
) -> tuple[list[float], list[tuple[int, int]]]:
    start = setting.h / 2.0 if head_start else 0.0
    total, onset, over = start, 0, False
    totals: list[float] = []
    signals: list[tuple[int, int]] = []
    for run, value in enumerate(z):
        if over and restart:
            total, onset, over = start, run, False
        total = max(0.0, total + value - setting.k)
        totals.append(total)
        if total == 0.0:
            onset = run + 1
        if total > setting.h and not over:
            signals.append((run, onset))
        over = total > setting.h
    return totals, signals
