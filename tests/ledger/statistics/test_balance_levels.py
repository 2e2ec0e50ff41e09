"""Levels and tails: against published formulas, and against an independent library's chi-square."""

from typing import Any

import numpy as np
import pytest
from balance_examples import statistics_checks, unhurried
from hypothesis import given
from hypothesis import strategies as st

from ledger.comparing.statistics.algebra.chi_square import critical_value, log_upper_tail, statistic_at, upper_tail
from ledger.comparing.statistics.faults.likelihood import (
    FINDING_LEVEL,
    NothingToTest,
    global_statistic,
    level_for_columns,
    level_of_largest,
    likelihood_ratio,
    one_column_equivalent,
)
from ledger.comparing.statistics.faults.power import (
    detectable_size,
    detection_probability,
)

CHECKS = statistics_checks()


def distribution(name: str) -> Any:
    """One of scipy's distributions. The library is slow to import, so only who asks it imports it."""
    from scipy import stats

    return getattr(stats, name)


def test_level_of_the_largest() -> None:
    check = CHECKS["level"]
    for hypotheses, expected in check["expected"]["T"].items():
        assert level_of_largest(check["inputs"]["alpha"], int(hypotheses)) == pytest.approx(expected, abs=5.1e-4)


def test_level_refuses_what_is_no_probability() -> None:
    with pytest.raises(ValueError, match="between 0 and 1"):
        level_of_largest(0.0, 10)


@unhurried
@given(st.floats(0.001, 900.0), st.integers(1, 700))
def test_tail_agrees_with_an_independent_one(statistic: float, dof: int) -> None:
    ours = log_upper_tail(statistic, dof)
    assert ours == pytest.approx(float(distribution("chi2").logsf(statistic, dof)), rel=1e-8, abs=1e-12)


@unhurried
@given(st.floats(-4000.0, -1e-4), st.integers(1, 60))
def test_statistic_at_a_tail_is_the_inverse(log_tail: float, dof: int) -> None:
    assert log_upper_tail(statistic_at(log_tail, dof), dof) == pytest.approx(log_tail, rel=1e-8)


@pytest.mark.parametrize("dof", [1, 2, 4, 10, 645, 1217])
def test_critical_values_agree_with_an_independent_library(dof: int) -> None:
    for tail in (0.5, 0.05, 1e-3, 1e-9):
        assert critical_value(tail, dof) == pytest.approx(float(distribution("chi2").isf(tail, dof)), rel=1e-9)
    assert upper_tail(-1.0, dof) == 1.0


def test_two_columns_need_three_and_a_half_more_at_the_finding_level() -> None:
    # Difference of levels at the same tail probability, computed from the chi-square distribution.
    assert level_for_columns(FINDING_LEVEL, 2) - FINDING_LEVEL == pytest.approx(3.5, abs=0.05)
    assert one_column_equivalent(level_for_columns(FINDING_LEVEL, 2), 2) == pytest.approx(FINDING_LEVEL)


@unhurried
@given(st.floats(0.0, 8000.0), st.integers(2, 5))
def test_more_columns_never_count_for_more(statistic: float, columns: int) -> None:
    assert one_column_equivalent(statistic, columns) <= statistic + 1e-9


@st.composite
def _faults(draw: st.DrawFn) -> tuple[np.ndarray, np.ndarray]:
    rows, columns = draw(st.integers(3, 9)), draw(st.integers(1, 2))
    random = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    return 5.0 * random.standard_normal(rows), random.standard_normal((rows, columns))


@unhurried
@given(_faults())
def test_statistic_is_the_fall_of_the_sum_of_squares(fault: tuple[np.ndarray, np.ndarray]) -> None:
    residual, columns = fault
    fit = likelihood_ratio(residual, columns)
    sizes, rest, _, _ = np.linalg.lstsq(columns, residual)
    assert fit.statistic == pytest.approx(global_statistic(residual) - float(rest[0]), rel=1e-8, abs=1e-9)
    assert fit.sizes == pytest.approx(tuple(sizes), rel=1e-7, abs=1e-9)
    covariance = np.linalg.inv(columns.T @ columns)
    assert fit.uncertainties == pytest.approx(tuple(np.sqrt(np.diag(covariance))), rel=1e-7)


def test_a_fault_that_moves_nothing_is_refused() -> None:
    with pytest.raises(NothingToTest, match="no row"):
        likelihood_ratio(np.ones(3), np.zeros(3))
    with pytest.raises(NothingToTest, match="depend"):
        likelihood_ratio(np.ones(3), np.ones((3, 2)))


def test_power_formula() -> None:
    for name, expected in CHECKS["power-formula"]["expected"].items():
        _, noncentrality, _, level = name.split()
        assert detection_probability(float(noncentrality), float(level)) == pytest.approx(expected, abs=5.1e-5)
        # The same tail from an independent noncentral chi-square.
        independent = float(distribution("ncx2").sf(float(level), 1, float(noncentrality)))
        assert detection_probability(float(noncentrality), float(level)) == pytest.approx(independent, rel=1e-6)


def test_detectable_sizes() -> None:
    assert detection_probability(detectable_size(1.0) ** 2) == pytest.approx(0.9, abs=1e-6)
