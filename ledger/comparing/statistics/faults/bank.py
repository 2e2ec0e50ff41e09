"""All hypotheses of a window side by side, so that one pass tests every one of them.

A hypothesis has one column, or a few; `owner` says of each column which hypothesis it belongs to. Columns are whitened
and so have no unit. Beside each hypothesis stand vectors of length one, at right angles to one another, that span its
columns (`basis`). Beside faults already found, whose sizes stay free, a column counts only as far as it lies at right
angles to theirs. Where less than a billionth of its length is left, the hypothesis can do nothing that those faults
cannot do, and is no longer usable.

Source: as in `algebra.projection`.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ledger.comparing.statistics.algebra.arrays import Flags, Indices, Matrix, Vector
from ledger.comparing.statistics.faults.likelihood import (
    LEAST_LENGTH_LEFT,
    LikelihoodRatio,
    likelihood_ratio,
    one_column_equivalent,
)


@dataclass(frozen=True, slots=True, eq=False)
class Bank:
    """Whitened columns of all hypotheses; `basis` spans each hypothesis with unit vectors at right angles."""

    columns: Matrix
    owner: Indices
    full_lengths: Vector
    basis: Matrix
    usable: Flags

    @property
    def size(self) -> int:
        """How many hypotheses there are."""
        return len(self.usable)

    def columns_of(self, hypothesis: int) -> Matrix:
        """The whitened columns of one hypothesis."""
        return self.columns[:, self._place(hypothesis)]

    def basis_of(self, hypothesis: int) -> Matrix:
        """The orthonormal basis of one hypothesis."""
        return self.basis[:, self._place(hypothesis)]

    def column_counts(self) -> Indices:
        """Columns of each hypothesis."""
        return np.bincount(self.owner, minlength=self.size)

    def statistics(self, residual: Vector) -> Vector:
        """T of every hypothesis against w; 0 where nothing is left to test."""
        shares = (self.basis.T @ residual) ** 2
        statistics = np.zeros(self.size)
        np.add.at(statistics, self.owner, shares)
        return statistics

    def comparable_statistics(self, residual: Vector) -> Vector:
        """T of every hypothesis on the scale of one column (equal tail probability)."""
        statistics = self.statistics(residual)
        counts = self.column_counts()
        for hypothesis in np.flatnonzero(counts > 1):
            statistics[hypothesis] = one_column_equivalent(float(statistics[hypothesis]), int(counts[hypothesis]))
        return statistics

    def highest_comparable(self, residual: Vector) -> float:
        """The largest of `comparable_statistics`; of several columns only those are put on the scale of one that could
        be it, since that scale makes them smaller."""
        statistics = self.statistics(residual)
        counts = self.column_counts()
        highest = float(statistics[counts == 1].max(initial=0.0))
        for hypothesis in np.flatnonzero((counts > 1) & (statistics > highest)):
            equivalent = one_column_equivalent(float(statistics[hypothesis]), int(counts[hypothesis]))
            highest = max(highest, equivalent)
        return highest

    def test(self, hypothesis: int, residual: Vector) -> LikelihoodRatio:
        """T, b and u_b of one usable hypothesis."""
        columns = self.columns_of(hypothesis)
        if columns.shape[1] > 1:
            return likelihood_ratio(residual, columns)
        share = float(self.basis_of(hypothesis)[:, 0] @ residual)
        length = float(np.linalg.norm(columns))
        return LikelihoodRatio(share * share, 1, (share / length,), (1.0 / length,))

    def _place(self, hypothesis: int) -> slice:
        if len(self.owner) == self.size:
            # Each hypothesis has one column.
            return slice(hypothesis, hypothesis + 1)
        return slice(int(self.owner.searchsorted(hypothesis)), int(self.owner.searchsorted(hypothesis, "right")))


def make_bank(whitened_columns: Matrix, column_counts: Sequence[int]) -> Bank:
    """A bank from whitened columns side by side, hypothesis by hypothesis."""
    owner = np.repeat(np.arange(len(column_counts)), column_counts)
    return _bank(whitened_columns, owner, np.linalg.norm(whitened_columns, axis=0))


def project_bank(bank: Bank, found: Matrix) -> Bank:
    """The bank beside faults already found: what of each column lies at right angles to `found` (orthonormal)."""
    if not found.shape[1]:
        return bank
    return _bank(bank.columns - found @ (found.T @ bank.columns), bank.owner, bank.full_lengths)


def _bank(columns: Matrix, owner: Indices, full_lengths: Vector) -> Bank:
    lengths = np.linalg.norm(columns, axis=0)
    column_left = (full_lengths > 0.0) & (lengths >= LEAST_LENGTH_LEFT * full_lengths)
    basis = np.divide(columns, lengths, out=np.zeros_like(columns), where=column_left)
    hypotheses = int(owner[-1]) + 1 if len(owner) else 0
    usable = np.ones(hypotheses, dtype=np.bool_)
    usable[owner[~column_left]] = False
    counts = np.bincount(owner, minlength=hypotheses)
    # Those of one width are made orthonormal together; each comes out as it would by itself.
    for width in np.unique(counts[counts > 1]):
        several = np.flatnonzero((counts == width) & usable)
        members = np.searchsorted(owner, several)[:, np.newaxis] + np.arange(width)
        orthonormal, root = np.linalg.qr(basis[:, members].transpose(1, 0, 2))
        basis[:, members] = orthonormal.transpose(1, 0, 2)
        diagonals = np.abs(np.diagonal(root, axis1=1, axis2=2))
        usable[several] = (diagonals >= LEAST_LENGTH_LEFT).all(axis=1)
    basis[:, ~usable[owner]] = 0.0
    return Bank(columns, owner, full_lengths, basis, usable)
