"""Whitening of a long stretch of rows, a block of them at a time.

In time order a reading stands in a few rows close together, and only few readings (or what several rows share) reach
from one block of rows into a later one. So L is never written out. Of the blocks gone by no more is carried on than
what their rows say of the errors that reach further: an estimate of each error and the covariance of these estimates.
Within a block a row is whitened by the block's own Cholesky factor. The values are those of the factor of the whole V,
but for rounding; the work grows with the number of rows and not with its cube.

Symbols as in the package; x are the errors that reach across blocks, each in units of its own standard uncertainty, P
their covariance given the rows gone by, J their columns in a block, D what only this block's rows share. Then the
block's rows, given the earlier ones, have the covariance C = D + JPJ'.

Source: recursive estimation with the shared errors as the state, in covariance form (Kalman, J. Basic Eng. 82 (1960)
35-45, from memory); for balances in sequence the state-variable form of NUREG/CR-0683, sections 2.5 and 2.6.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import chain

import numpy as np

from ledger.comparing.statistics.algebra.arrays import Flags, Indices, Matrix, Vector
from ledger.comparing.statistics.charts.whitening import root

# Rows of a block: large enough for matrix products to carry the work, small enough for a factor of its own to be cheap.
BLOCK = 48


@dataclass(frozen=True, slots=True, eq=False)
class _Block:
    """Rows from `start` to `stop`: inverse of the root of C, J, the gain of x per whitened row, how many errors first
    enter here, and which of them reach further."""

    start: int
    stop: int
    inverse: Matrix
    columns: Matrix
    gain: Matrix
    entering: int
    reaching: Flags


@dataclass(frozen=True, slots=True, eq=False)
class SequentialWhitening:
    """The whitened residuals w of all rows, and how a column is whitened."""

    blocks: tuple[_Block, ...]
    residual: Vector

    def whiten(self, columns: Matrix) -> Matrix:
        """L⁻¹F for columns side by side, in the same shape."""
        return _whitened(self.blocks, columns)


def whiten_in_blocks(
    columns: Sequence[Mapping[int, float]], spreads: Vector, residual: Vector, block: int = BLOCK
) -> SequentialWhitening:
    """Whitens r where V is the sum of u² f f' over the columns and of the rows' own spreads squared.

    `columns` are already scaled by their standard uncertainty, place of a row -> effect on it. Raises DependentRow if a
    row has no variance left once the rows before it are known.
    """
    rows = len(residual)
    entries = _Entries.of(columns, block)
    variances = entries.variances(rows) + spreads**2
    blocks: list[_Block] = []
    active: Indices = np.empty(0, dtype=np.intp)
    known: Matrix = np.empty((0, 0))
    for number, start in enumerate(range(0, rows, block)):
        stop = min(start + block, rows)
        entering = np.flatnonzero((entries.first == number) & (entries.last > number))
        active = np.concatenate([active, entering])
        known = _beside(known, len(entering))
        own = entries.within(number, np.flatnonzero((entries.first == number) & (entries.last == number)), start, stop)
        shared = entries.within(number, active, start, stop)
        explained = shared @ known
        spread = own @ own.T + explained @ shared.T
        spread[np.diag_indices_from(spread)] += spreads[start:stop] ** 2
        lower = root(spread, start, variances[start:stop])
        inverse: Matrix = np.asarray(np.linalg.solve(lower, np.eye(stop - start)), dtype=np.float64)
        gain = inverse @ explained
        known = known - gain.T @ gain
        reaching = entries.last[active] > number
        blocks.append(_Block(start, stop, inverse, shared, gain.T, len(entering), reaching))
        active, known = active[reaching], known[np.ix_(reaching, reaching)]
    made = tuple(blocks)
    return SequentialWhitening(made, _whitened(made, residual[:, np.newaxis])[:, 0])


def _whitened(blocks: Sequence[_Block], columns: Matrix) -> Matrix:
    """Rows before the first that a column enters stay nothing, so columns that begin late cost less."""
    begins = np.where((columns != 0.0).any(axis=0), (columns != 0.0).argmax(axis=0), len(columns))
    order = np.argsort(begins, kind="stable")
    begins, given = begins[order], columns[:, order]
    solved = np.zeros_like(given, dtype=np.float64)
    estimates: Matrix = np.zeros((0, 0))
    for one in blocks:
        begun = int(np.searchsorted(begins, one.stop))
        known = np.zeros((len(estimates) + one.entering, begun))
        known[: len(estimates), : estimates.shape[1]] = estimates
        rows = one.inverse @ (given[one.start : one.stop, :begun] - one.columns @ known)
        solved[one.start : one.stop, :begun] = rows
        known += one.gain @ rows
        estimates = known[one.reaching]
    back: Matrix = np.empty_like(solved)
    back[:, order] = solved
    return back


def _beside(known: Matrix, entering: int) -> Matrix:
    """Covariance of the errors known so far and of others nothing is known of yet."""
    size = len(known)
    wider = np.zeros((size + entering, size + entering))
    wider[:size, :size] = known
    wider[np.arange(size, size + entering), np.arange(size, size + entering)] = 1.0
    return wider


@dataclass(frozen=True, slots=True, eq=False)
class _Entries:
    """All columns as one list of entries: row, column, effect; entries of a block stand together, from `starts` on.

    `first` and `last` are the blocks a column begins and ends in; a column without entries begins after all of them.
    """

    rows: Indices
    owners: Indices
    effects: Vector
    starts: Indices
    first: Indices
    last: Indices

    @classmethod
    def of(cls, columns: Sequence[Mapping[int, float]], block: int) -> _Entries:
        """The entries of these columns."""
        counts = np.array([len(one) for one in columns], dtype=np.intp)
        rows = np.fromiter(chain.from_iterable(columns), dtype=np.intp, count=int(counts.sum()))
        effects = np.fromiter(chain.from_iterable(one.values() for one in columns), dtype=np.float64, count=len(rows))
        owners = np.repeat(np.arange(len(columns)), counts)
        blocks = rows // block
        blocks_in_all = int(blocks.max(initial=-1)) + 1
        first = np.full(len(columns), blocks_in_all, dtype=np.intp)
        last = np.full(len(columns), -1, dtype=np.intp)
        np.minimum.at(first, owners, blocks)
        np.maximum.at(last, owners, blocks)
        order = np.argsort(blocks, kind="stable")
        starts = np.searchsorted(blocks[order], np.arange(blocks_in_all + 1))
        return cls(rows[order], owners[order], effects[order], starts, first, last)

    def variances(self, rows: int) -> Vector:
        """What the columns put into each row by themselves, on the diagonal of V."""
        summed: Vector = np.bincount(self.rows, weights=self.effects**2, minlength=rows).astype(np.float64, copy=False)
        return summed

    def within(self, block: int, chosen: Indices, start: int, stop: int) -> Matrix:
        """The part of some columns that lies in a block, side by side."""
        matrix = np.zeros((stop - start, len(chosen)))
        if block + 1 >= len(self.starts):
            return matrix
        entries = slice(int(self.starts[block]), int(self.starts[block + 1]))
        place = np.full(len(self.first), -1, dtype=np.intp)
        place[chosen] = np.arange(len(chosen))
        places = place[self.owners[entries]]
        wanted = places >= 0
        matrix[self.rows[entries][wanted] - start, places[wanted]] = self.effects[entries][wanted]
        return matrix
