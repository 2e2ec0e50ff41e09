"""When did a lasting loss begin: T for every run it may have started with, as the runs come in.

For one type of operation and every onset n the column is the charge of each run from n on, so the size is the
share of charge lost since. Running sums give T for data up to any row. A signal when the largest T over the onsets
(at least one run before the onset and one after it) passes 12: by simulation 0.03 false signals a month in a
small plant and 0.07 in a large one, loss side, all types together. The onset is known only as a range: every n
whose T is within 3.84 of the largest.

Where V is known this finds a lasting loss sooner than a CUSUM and says at once how large it is. A constant
loss and a constant error of an instrument used in every run are the same to these figures: it is a loss or an
instrument until a second instrument has checked the first.

Source: Narasimhan and Mah, AIChE J. 33 (1987), with the onset as in Page, Biometrika 41 (1954).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ledger.comparing.statistics.algebra.arrays import Flags, Matrix, Vector
from ledger.comparing.statistics.algebra.assembly import dense
from ledger.comparing.statistics.algebra.problem import Column
from ledger.comparing.statistics.algebra.projection import FollowsFromFound, orthonormal_basis
from ledger.comparing.statistics.charts.running import running_statistics
from ledger.comparing.statistics.charts.whitening import Whitening

ONSET_LEVEL = 12.0
# Fall of T over the onsets that a 95 % range allows.
_RANGE_OF_ONSET = 3.84


@dataclass(frozen=True, slots=True)
class LastingLoss:
    """A lasting loss that signalled: rows of its onset, of the earliest and latest onset in range, of the signal.

    `share` of each charge is lost from the onset on, with its standard uncertainty; T from all rows. `highest` is the
    largest T there was at any row: one just over the level that later rows take back may have been chance.
    """

    family: str
    onset: str
    earliest: str
    latest: str
    signalled: str
    statistic: float
    share: float
    share_uncertainty: float
    highest: float = 0.0


def lasting_loss(
    whitening: Whitening,
    positions: Mapping[str, int],
    family: str,
    charges: Column,
    *,
    found: Matrix | None = None,
    level: float = ONSET_LEVEL,
    losses_only: bool = True,
    whitened: Matrix | None = None,
) -> LastingLoss | None:
    """Test one type of operation; None if no onset passes the level or there are fewer than three runs.

    `charges` are row key -> charge (LPA) of its runs; `found` are whitened columns left free beside it. With
    `losses_only` a lasting gain does not signal. `whitened` are its `onset_columns`, where they are there already.
    """
    runs = sorted(charges, key=positions.__getitem__)
    onsets = runs[1:-1]
    if not onsets:
        return None
    if whitened is None:
        whitened = onset_columns(whitening, positions, charges)
    statistics, shares = running_statistics(whitening.residual, whitened, found)
    statistics = np.where(_heard(runs, positions, len(positions)), statistics, 0.0)
    if losses_only:
        statistics = np.where(shares > 0.0, statistics, 0.0)
    over = np.flatnonzero(statistics.max(axis=1) > level)
    if not len(over):
        return None
    # The size comes from all rows; the signal stands from the row that gave it.
    final = statistics[-1] if statistics[-1].max() > 0.0 else statistics[over[0]]
    row = len(positions) - 1 if statistics[-1].max() > 0.0 else int(over[0])
    best = int(np.argmax(final))
    within = np.flatnonzero(final > final[best] - _RANGE_OF_ONSET)
    size, statistic = float(shares[row, best]), float(final[best])
    keys = list(positions)
    return LastingLoss(
        family=family,
        onset=onsets[best],
        earliest=onsets[int(within[0])],
        latest=onsets[int(within[-1])],
        signalled=keys[int(over[0])],
        statistic=statistic,
        share=size,
        share_uncertainty=abs(size) / float(np.sqrt(statistic)),
        highest=float(statistics.max()),
    )


def onset_columns(whitening: Whitening, positions: Mapping[str, int], charges: Column) -> Matrix:
    """The whitened column of every onset of one type of operation: the charge of each run from it on."""
    runs = sorted(charges, key=positions.__getitem__)
    columns: list[Column] = [{run: charges[run] for run in runs[start:]} for start in range(1, len(runs) - 1)]
    return whitening.whiten(dense(columns, positions))


def lasting_losses(
    whitening: Whitening,
    positions: Mapping[str, int],
    families: Mapping[str, Column],
    *,
    found: Sequence[Matrix] = (),
    level: float = ONSET_LEVEL,
    losses_only: bool = True,
) -> list[LastingLoss]:
    """Lasting losses of all types of operation, the earliest signal first, each left free for the rest.

    An unmodelled loss at one still shows through the shared receiver as a smaller false loss at another; whichever
    signalled first is treated first, and only what then remains of the others counts.
    """
    free = [one.reshape(len(positions), -1) for one in found]
    waiting = dict(families)
    columns = {family: onset_columns(whitening, positions, charges) for family, charges in families.items()}
    signals: list[LastingLoss] = []
    while waiting:
        beside = np.hstack(free) if free else None
        heard = [
            signal
            for family, charges in waiting.items()
            if (
                signal := lasting_loss(
                    whitening,
                    positions,
                    family,
                    charges,
                    found=beside,
                    level=level,
                    losses_only=losses_only,
                    whitened=columns[family],
                )
            )
            is not None
        ]
        if not heard:
            break
        first = min(heard, key=lambda signal: (positions[signal.signalled], -signal.statistic))
        signals.append(first)
        charges = waiting.pop(first.family)
        since = {run: charge for run, charge in charges.items() if positions[run] >= positions[first.onset]}
        column = whitening.whiten(dense([since], positions))
        try:
            orthonormal_basis(np.hstack([*free, column]))
        except FollowsFromFound:
            continue
        free.append(column)
    return signals


def _heard(runs: Sequence[str], positions: Mapping[str, int], rows: int) -> Flags:
    """For every row and onset: whether a further run after the onset has been made by then."""
    following: Vector = np.array([positions[run] for run in runs[2:]], dtype=np.float64)
    heard: Flags = np.arange(rows)[:, np.newaxis] >= following
    return heard
