"""A window with a row that the rows before it leave nothing of can still be tested. By hand: two rows that are one."""

from __future__ import annotations

import pytest

from ledger.comparing.search.widening import opened, whitened
from ledger.comparing.statistics.algebra.assembly import open_window
from ledger.comparing.statistics.algebra.problem import Problem, ProblemError, Reading, Row, RowKind

TWICE = Problem(
    rows=[Row(key, RowKind.CONTINUITY, time, 3.0) for time, key in enumerate(("first", "again"))],
    readings=[Reading("dip", "dip", 2.0, {"first": 1.0, "again": 1.0})],
)


def test_a_row_that_repeats_another_is_widened_and_the_reading_still_found() -> None:
    with pytest.raises(ProblemError, match="again"):
        open_window(TWICE)
    window = opened(TWICE)
    fit = window.bank.test(window.place("dip"), window.whitening.residual)
    assert fit.size == pytest.approx(3.0)
    assert whitened(TWICE).residual[0] == pytest.approx(3.0 / 2.0)


def test_what_widening_does_not_mend_is_still_refused() -> None:
    negative = Problem(rows=TWICE.rows, readings=[Reading("dip", "dip", -2.0, {"first": 1.0})])
    with pytest.raises(ProblemError, match="cannot be negative"):
        opened(negative)
