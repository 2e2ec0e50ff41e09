"""Whitening in blocks against the factor of the whole V: the same values, whatever reaches from block to block."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ledger.comparing.statistics.charts.sequential import whiten_in_blocks
from ledger.comparing.statistics.charts.whitening import DependentRow, whiten

ROWS = st.integers(2, 40)


@given(rows=ROWS, block=st.integers(1, 12), errors=st.integers(0, 60), seed=st.integers(0, 10_000))
@settings(max_examples=60, deadline=None)
def test_blocks_give_what_the_whole_gives(rows: int, block: int, errors: int, seed: int) -> None:
    drawn = np.random.default_rng(seed)
    # Most errors stand in a few rows close together, some in rows far apart, and one in all of them.
    columns = [
        {
            int(row): float(drawn.normal(0.0, 3.0))
            for row in {int(one) % rows for one in drawn.integers(0, rows, 1) + drawn.integers(0, 6, 3)}
        }
        for _ in range(errors)
    ]
    columns += [{0: 2.0, rows - 1: -1.0}, dict.fromkeys(range(rows), 0.7)]
    spreads = drawn.uniform(0.1, 2.0, rows)
    residual, asked = drawn.normal(0.0, 4.0, rows), drawn.normal(0.0, 1.0, (rows, 5))
    # Columns that begin late, and one that moves nothing.
    asked[: rows // 2, 0] = 0.0
    asked[:, 4] = 0.0
    dense = np.zeros((rows, len(columns)))
    for place, column in enumerate(columns):
        for row, effect in column.items():
            dense[row, place] = effect
    whole = whiten(dense @ dense.T + np.diag(spreads**2), residual)
    found = whiten_in_blocks(columns, spreads, residual, block)
    assert found.residual == pytest.approx(whole.residual, abs=1e-8)
    assert found.whiten(asked) == pytest.approx(whole.whiten(asked), abs=1e-8)


def test_a_row_that_follows_from_one_in_an_earlier_block_is_named() -> None:
    columns = [{0: 1.0, 5: 1.0}, {1: 1.0}, {2: 1.0}, {3: 1.0}, {4: 1.0}]
    with pytest.raises(DependentRow) as refused:
        whiten_in_blocks(columns, np.zeros(6), np.zeros(6), 2)
    assert refused.value.position == 5
