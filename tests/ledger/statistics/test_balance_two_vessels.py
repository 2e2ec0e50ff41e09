"""Two runs between two vessels with one closing dip 100 mm short (invented figures; see the check file)."""

import math

import numpy as np
import pytest
from balance_examples import statistics_checks, two_vessels

from ledger.comparing.statistics.algebra.assembly import covariance, dense, open_window, residuals, row_positions
from ledger.comparing.statistics.algebra.problem import all_hypotheses
from ledger.comparing.statistics.faults.equivalence import bank_cosine
from ledger.comparing.statistics.faults.faults import find_faults
from ledger.comparing.statistics.faults.likelihood import global_statistic
from ledger.comparing.statistics.faults.power import contributions, visibility, with_instruments
from ledger.comparing.statistics.faults.ranking import beside_found, rank_window

CHECKS = statistics_checks()
BOTH = pytest.mark.parametrize(
    ("example", "strength_rows"), [("two-vessels-alcohol-only", False), ("two-vessels", True)]
)


@BOTH
def test_rows_columns_and_covariance(example: str, strength_rows: bool) -> None:
    expected = CHECKS[example]["expected"]
    problem = two_vessels(strength_rows=strength_rows)
    assert [row.key for row in problem.rows] == expected["rows"]
    assert residuals(problem) == pytest.approx(expected["r"], abs=5.1e-4)
    assert covariance(problem) == pytest.approx(np.array(expected["V"]), abs=5.1e-5)
    faults = {one.key: one for one in all_hypotheses(problem)}
    for key, column in expected["f"].items():
        assert dense(faults[key].columns, row_positions(problem))[:, 0] == pytest.approx(column)


@BOTH
def test_statistics_sizes_and_cosines(example: str, strength_rows: bool) -> None:
    expected = CHECKS[example]["expected"]
    window = open_window(two_vessels(strength_rows=strength_rows))
    assert global_statistic(window.whitening.residual) == pytest.approx(expected["global_test"], abs=5.1e-4)
    assert len(window.positions) == expected["dof"]
    for key, values in expected["glr"].items():
        fit = window.bank.test(window.place(key), window.whitening.residual)
        assert fit.statistic == pytest.approx(values["T"], abs=5.1e-4)
        assert fit.size == pytest.approx(values["b"], abs=5.1e-5)
        assert fit.uncertainty == pytest.approx(values["u"], abs=5.1e-5)
    for pair, rho in expected["cosine"].items():
        first, second = (window.place(key) for key in pair.split(" | "))
        assert bank_cosine(window.bank, first, second) == pytest.approx(rho, abs=5.1e-5)


@pytest.mark.parametrize(
    ("key", "strength_rows", "statistic", "size"),
    [
        # Invented figures, computed independently and rounded to one decimal.
        ("B2 hydrometer", True, 7.9, None),
        ("B2 celsius", True, 48.1, None),
        ("loss in run 1", True, 175.2, 94.3),
        ("loss in run 1", False, 180.4, 95.6),
        ("loss in run 2", False, 266.0, -95.4),
    ],
)
def test_further_statistics(key: str, strength_rows: bool, statistic: float, size: float | None) -> None:
    window = open_window(two_vessels(strength_rows=strength_rows))
    fit = window.bank.test(window.place(key), window.whitening.residual)
    assert fit.statistic == pytest.approx(statistic, abs=0.06)
    if size is not None:
        assert fit.size == pytest.approx(size, abs=0.06)


def test_nothing_more_once_the_dip_is_left_free() -> None:
    window = open_window(two_vessels(strength_rows=True))
    residual, bank = beside_found(window, ["B2 dip"])
    for key, values in CHECKS["two-vessels"]["expected"]["after_B2_dip_free"].items():
        fit = bank.test(window.place(key), residual)
        assert fit.statistic == pytest.approx(values["T"], abs=5.1e-4)
        assert fit.size == pytest.approx(values["b"], abs=5.1e-5)
        assert fit.uncertainty == pytest.approx(values["u"], abs=5.1e-5)
    assert bank.statistics(residual).max() == pytest.approx(1.602, abs=5.1e-4)


def test_alcohol_rows_name_the_gauge_and_strength_rows_its_reading() -> None:
    by_alcohol = rank_window(open_window(two_vessels(strength_rows=False)))[0]
    assert {member.hypothesis.key for member in by_alcohol.members} == {"B2 dip", "B2 celsius", "B2 hydrometer"}
    best = rank_window(open_window(two_vessels(strength_rows=True)))[0]
    assert [member.hypothesis.key for member in best.members] == ["B2 dip"]
    assert best.separated


def test_one_fault_is_found_and_dated_at_the_operation_that_showed_it() -> None:
    findings = find_faults(two_vessels(strength_rows=True))
    assert [fault.hypothesis.key for fault in findings.faults] == ["B2 dip"]
    fault = findings.faults[0]
    assert fault.fit.size == pytest.approx(-99.7932, abs=5e-4)
    assert fault.first_passed == "difference run 1"
    assert findings.remaining == pytest.approx(7331.427 - 7327.209, abs=2e-3)


def test_a_true_loss_stands_with_the_quantities_gauged_once() -> None:
    # With B2 read right and the alcohol truly gone both later gauges of B agree.
    gone = {"B3": -194.8, "B4": -194.8}
    best = rank_window(open_window(two_vessels(strength_rows=True, changes=gone)))[0]
    assert [member.hypothesis.key for member in best.members] == ["loss in run 1", "run 1 feints", "run 1 lees"]
    assert best.leading.hypothesis.key == "loss in run 1"


def test_what_could_be_seen_and_what_better_instruments_buy() -> None:
    problem = two_vessels(strength_rows=True)
    loss = next(one for one in problem.hypotheses if one.key == "loss in run 1")
    weighed = {f"B{number} dip": 0.2 for number in range(5)}
    meter = {f"A{number} hydrometer": 0.02 for number in range(5)}
    receiver_meter = {f"B{number} hydrometer": 0.02 for number in range(5)}
    names = list(CHECKS["power"]["expected"])
    changes = dict(zip(names, ({}, weighed, meter, weighed | meter, weighed | meter | receiver_meter), strict=True))
    for name, seen in with_instruments(problem, loss, changes).items():
        uncertainty, detectable = CHECKS["power"]["expected"][name]
        assert seen.standard_uncertainty == pytest.approx(uncertainty, abs=5.1e-4)
        assert seen.detectable == pytest.approx(detectable, abs=5.1e-3)


def test_instruments_are_ranked_by_what_they_buy() -> None:
    problem = two_vessels(strength_rows=True)
    loss = next(one for one in problem.hypotheses if one.key == "loss in run 1")
    together = {
        f"{vessel} {kind}": [f"{vessel}{number} {kind}" for number in range(5)]
        for vessel in "AB"
        for kind in ("dip", "celsius", "hydrometer")
    }
    ranked = contributions(problem, loss, together)
    # The charge vessel's hydrometer dominates; weighing the receiver buys little.
    assert ranked[0].key == "A hydrometer"
    assert ranked[0].removable > 5.0 * next(one.removable for one in ranked if one.key == "B dip")
    # The slope agrees with building V again for a small change of each reading.
    for one in contributions(problem, loss)[:5]:
        reading = next(reading for reading in problem.readings if reading.key == one.key)
        step = 1e-4 * reading.standard_uncertainty
        sizes = [
            visibility(problem.with_uncertainties({one.key: reading.standard_uncertainty + move}), loss).detectable
            for move in (step, -step)
        ]
        assert (sizes[0] - sizes[1]) / (2.0 * step) == pytest.approx(one.slope, rel=1e-5)


def test_context_sees_more_than_the_row_alone() -> None:
    problem = two_vessels(strength_rows=True)
    loss = next(one for one in problem.hypotheses if one.key == "loss in run 1")
    alone = math.sqrt(covariance(problem)[4, 4])
    assert visibility(problem, loss).standard_uncertainty < alone
    assert alone == pytest.approx(9.1, abs=0.05)
