"""Innovations of a sequence of balances (see the check file), and what whitening has to keep."""

import numpy as np
import pytest
from balance_examples import invented_month, statistics_checks, unhurried
from hypothesis import given
from hypothesis import strategies as st

from ledger.comparing.statistics.algebra.assembly import covariance, open_window, residuals, whiten_problem
from ledger.comparing.statistics.algebra.problem import Problem, ProblemError, Reading, Row, RowKind
from ledger.comparing.statistics.charts.charts import CusumSetting, cusum
from ledger.comparing.statistics.charts.running import first_row_over, running_statistics
from ledger.comparing.statistics.charts.whitening import DependentRow, whiten

CHECK = statistics_checks()["sitmuf"]


def _balances() -> Problem:
    """Ten balances that share inventories: opening less closing, with transfers and one common error."""
    inputs, count = CHECK["inputs"], len(CHECK["inputs"]["muf"])
    rows = [
        Row(f"balance {place}", RowKind.OPERATION, place, muf, inputs["sigma_transfer"])
        for place, muf in enumerate(inputs["muf"])
    ]
    readings = []
    for place in range(count + 1):
        column = {f"balance {place - 1}": -1.0} if place else {}
        if place < count:
            column[f"balance {place}"] = 1.0
        readings.append(Reading(f"inventory {place}", "inventory", inputs["sigma_inventory"], column))
    common = {row.key: 1.0 for row in rows}
    readings.append(Reading("common", "common", inputs["sigma_common"], common))
    return Problem(rows, readings)


def _covariance() -> np.ndarray:
    expected, count = CHECK["expected"], len(CHECK["inputs"]["muf"])
    matrix = np.full((count, count), expected["V_elsewhere"])
    np.fill_diagonal(matrix, expected["V_diagonal"])
    for place in range(count - 1):
        matrix[place, place + 1] = matrix[place + 1, place] = expected["V_neighbours"]
    return matrix


def test_innovations_of_the_balances() -> None:
    expected, muf = CHECK["expected"], np.array(CHECK["inputs"]["muf"])
    whitening = whiten(_covariance(), muf)
    assert whitening.standard_deviations == pytest.approx(expected["innovation_sd"], abs=5.1e-5)
    assert whitening.residual == pytest.approx(expected["sitmuf"], abs=5.1e-5)
    assert whitening.residual * whitening.standard_deviations == pytest.approx(expected["itmuf"], abs=5.1e-5)
    for name, k in (("page_k_0_5", 0.5), ("page_k_1", 1.0)):
        chart = cusum(list(whitening.residual), CusumSetting(k, 5.0))
        assert chart.upper == pytest.approx(expected[name], abs=5.1e-5)
    signal = cusum(list(whitening.residual), CusumSetting(0.5, 5.0)).signals[0]
    assert (signal.run, signal.onset, signal.loss) == (9, 5, True)


def test_shared_readings_give_the_terms_off_the_diagonal() -> None:
    problem = _balances()
    built = covariance(problem)
    assert built == pytest.approx(_covariance())
    assert whiten_problem(problem).residual == pytest.approx(CHECK["expected"]["sitmuf"], abs=5.1e-5)


@st.composite
def _windows(draw: st.DrawFn) -> tuple[np.ndarray, np.ndarray, int]:
    rows = draw(st.integers(2, 90))
    random = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    jacobian = random.standard_normal((rows, rows + 5)) * (random.random((rows, rows + 5)) < 0.3)
    matrix = jacobian @ jacobian.T + 0.1 * np.eye(rows)
    return matrix, 3.0 * random.standard_normal(rows), draw(st.integers(1, rows - 1))


@unhurried
@given(_windows(), st.integers(0, 2**32 - 1))
def test_running_sums_are_the_tests_of_the_rows_so_far(window: tuple[np.ndarray, np.ndarray, int], seed: int) -> None:
    matrix, residual, first = window
    random = np.random.default_rng(seed)
    columns = random.standard_normal((len(residual), 2))
    free = random.standard_normal((len(residual), 1))
    whole = whiten(matrix, residual)
    statistics, sizes = running_statistics(whole.residual, whole.whiten(columns), whole.whiten(free))
    if first < 3:
        return
    part = whiten(matrix[:first, :first], residual[:first])
    for place in range(2):
        both = part.whiten(np.column_stack([free[:first], columns[:first, place]]))
        solved, rest, _, _ = np.linalg.lstsq(both, part.residual)
        alone = np.linalg.lstsq(both[:, :1], part.residual)[1]
        assert sizes[first - 1, place] == pytest.approx(solved[1], rel=1e-4, abs=1e-6)
        fall = float(alone[0] - (rest[0] if len(rest) else 0.0))
        assert statistics[first - 1, place] == pytest.approx(fall, rel=1e-4, abs=1e-6)


def test_first_row_over_a_level_is_the_row_that_showed_it() -> None:
    residual = np.array([0.0, 0.5, 3.0, 4.0, 1.0])
    column = np.ones((5, 1))
    # Running T: 0, 0.125, 4.08, 14.06, 14.45.
    assert first_row_over(residual, column, 4.0) == 2
    assert first_row_over(residual, column, 12.0) == 3
    assert first_row_over(residual, column, 20.0) is None


def test_a_row_without_uncertainty_of_its_own_is_named() -> None:
    rows = [Row(key, RowKind.CONTINUITY, 0.0, 0.0) for key in ("first", "repeat")]
    readings = [Reading("dip", "dip", 1.0, {"first": 1.0, "repeat": 1.0})]
    with pytest.raises(ProblemError, match="'repeat' has no uncertainty"):
        open_window(Problem(rows, readings))
    with pytest.raises(DependentRow, match="Row 1 "):
        whiten(np.zeros((2, 2)), np.zeros(2))


def test_problems_that_do_not_fit_together_are_refused() -> None:
    rows = [Row("gap", RowKind.CONTINUITY, 0.0, 0.0, 1.0)]
    with pytest.raises(ProblemError, match="not in this window"):
        Problem(rows, [Reading("dip", "dip", 1.0, {"other": 1.0})])
    with pytest.raises(ProblemError, match="twice"):
        Problem([*rows, *rows])
    with pytest.raises(ProblemError, match="cannot be negative"):
        covariance(Problem(rows, [Reading("dip", "dip", -1.0, {"gap": 1.0})]))
    with pytest.raises(ProblemError, match="no reading 'dip'"):
        Problem(rows).with_uncertainties({"dip": 1.0})


def test_rows_are_put_in_time_order_whatever_order_they_came_in() -> None:
    month = invented_month(runs=4, fills=1, casks=3)
    shuffled = Problem(
        sorted(month.rows, key=lambda row: (row.time, list(month.rows).index(row))),
        list(month.readings)[::-1],
        month.usual_losses,
        month.instruments,
        month.hypotheses,
    )
    assert residuals(shuffled) == pytest.approx(residuals(month))
    assert covariance(shuffled) == pytest.approx(covariance(month))
