"""When did a lasting loss begin: T for every run it may have started with, as the runs come in.

For one type of operation each run may be the onset. An onset's column holds the charge (LPA) of each run from it on and
nothing before, so its size is the share of charge lost since, a plain fraction. Running sums give T from the rows up to
any one. A signal comes when the largest T over the onsets passes 12; an onset counts from the second run on, once a run
after it has been heard. By simulation that is 0.03 false signals a month in a small plant and 0.07 in a large one, loss
side, all types together. The onset is known only as a range: all whose T is within 3.84 of the largest, the 95 % point
of chi-square with one degree of freedom.

Where V is known this finds a lasting loss sooner than a CUSUM and says at once how large it is. A constant loss and a
constant error of an instrument used in every run are the same to these figures: it is a loss or an instrument until a
second instrument has checked the first.

Source: Narasimhan and Mah, AIChE J. 33 (1987), with the onset as in Page, Biometrika 41 (1954).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ledger.comparing.statistics.algebra.arrays import Indices, Matrix, Vector
from ledger.comparing.statistics.algebra.assembly import dense
from ledger.comparing.statistics.algebra.problem import Column
from ledger.comparing.statistics.algebra.projection import FollowsFromFound, orthonormal_basis
from ledger.comparing.statistics.charts.running import Running
from ledger.comparing.statistics.charts.whitening import Whitens

ONSET_LEVEL = 12.0
# Fall of T over the onsets that a 95 % range allows.
_RANGE_OF_ONSET = 3.84
# Onsets tested together.
_TOGETHER = 32


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
    whitening: Whitens,
    positions: Mapping[str, int],
    family: str,
    charges: Column,
    *,
    found: Matrix | None = None,
    level: float = ONSET_LEVEL,
    losses_only: bool = True,
) -> LastingLoss | None:
    """Test one type of operation; None if no onset passes the level or there are fewer than three runs.

    `charges` are row key -> charge (LPA) of its runs; `found` are whitened columns left free beside it. With
    `losses_only` a lasting gain does not signal.
    """
    columns = _onset_columns(whitening, positions, {family: charges})[family]
    running = Running.beside(whitening.residual, found)
    return _lasting_loss(running, positions, family, charges, columns, level=level, losses_only=losses_only)


def _lasting_loss(
    running: Running,
    positions: Mapping[str, int],
    family: str,
    charges: Column,
    columns: Matrix,
    *,
    level: float,
    losses_only: bool,
) -> LastingLoss | None:
    runs = sorted(charges, key=positions.__getitem__)
    onsets = runs[1:-1]
    if not onsets:
        return None
    tested = _largest(running, columns, _heard_from(runs, positions), losses_only=losses_only)
    over = np.flatnonzero(tested.largest > level)
    if not len(over):
        return None
    # The size comes from all rows; the signal stands from the row that gave it.
    final, shares = tested.statistics, tested.shares
    if not final.max() > 0.0:
        upto = slice(0, int(over[0]) + 1)
        before = Running(running.residual[upto], running.units[upto], running.inverse[upto], running.along[upto])
        heard_by_then = _largest(before, columns[upto], _heard_from(runs, positions), losses_only=losses_only)
        final, shares = heard_by_then.statistics, heard_by_then.shares
    best = int(np.argmax(final))
    within = np.flatnonzero(final > final[best] - _RANGE_OF_ONSET)
    size, statistic = float(shares[best]), float(final[best])
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
        highest=float(tested.largest.max()),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Tested:
    """The largest T over the onsets after every row; T and b of every onset after the last row."""

    largest: Vector
    statistics: Vector
    shares: Vector


def _largest(running: Running, columns: Matrix, heard_from: Indices, *, losses_only: bool) -> _Tested:
    """Tests some onsets at a time, so that what is worked on stays in the processor's own memory."""
    rows, onsets = columns.shape
    largest, last, shares = np.zeros(rows), np.zeros(onsets), np.zeros(onsets)
    for start in range(0, onsets, _TOGETHER):
        some = slice(start, min(start + _TOGETHER, onsets))
        statistics, sizes = running.test(columns[:, some])
        counts = np.arange(rows)[:, np.newaxis] >= heard_from[some]
        statistics = np.where(counts & (sizes > 0.0) if losses_only else counts, statistics, 0.0)
        np.maximum(largest, statistics.max(axis=1), out=largest)
        last[some], shares[some] = statistics[-1], sizes[-1]
    return _Tested(largest, last, shares)


def _onset_columns(
    whitening: Whitens, positions: Mapping[str, int], families: Mapping[str, Column]
) -> dict[str, Matrix]:
    """The whitened columns of every onset of each type of operation: the charge of each run from it on.

    Each run is whitened once; an onset's column is the sum of those of its runs.
    """
    runs = {family: sorted(charges, key=positions.__getitem__)[1:] for family, charges in families.items()}
    single: list[Column] = [{run: families[family][run]} for family, some in runs.items() for run in some]
    whitened = whitening.whiten(dense(single, positions))
    columns: dict[str, Matrix] = {}
    start = 0
    for family, some in runs.items():
        own = whitened[:, start : start + len(some)]
        start += len(some)
        from_the_last = np.cumsum(own[:, ::-1], axis=1)
        columns[family] = np.ascontiguousarray(from_the_last[:, :0:-1])
    return columns


def lasting_losses(
    whitening: Whitens,
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
    columns = _onset_columns(whitening, positions, families)
    signals: list[LastingLoss] = []
    while waiting:
        running = Running.beside(whitening.residual, np.hstack(free) if free else None)
        heard = [
            signal
            for family, charges in waiting.items()
            if (
                signal := _lasting_loss(
                    running, positions, family, charges, columns[family], level=level, losses_only=losses_only
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


def _heard_from(runs: Sequence[str], positions: Mapping[str, int]) -> Indices:
    """For every onset the row from which on it counts: that of the run after it."""
    return np.array([positions[run] for run in runs[2:]], dtype=np.intp)
