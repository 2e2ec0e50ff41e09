"""Several faults found one by one, on invented vessels whose tables are not straight lines."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from balance_examples import bypass_problem, invented_month, statistics_checks, two_vessels
from msgspec import structs

from ledger.comparing.statistics.algebra.assembly import dense, open_window, row_positions
from ledger.comparing.statistics.algebra.problem import (
    FaultKind,
    Hypothesis,
    Problem,
    Reading,
    Row,
    RowKind,
    all_hypotheses,
)
from ledger.comparing.statistics.faults.compensation import fit_jointly, weakest
from ledger.comparing.statistics.faults.faults import (
    Accepted,
    ImpossibleReading,
    find_faults,
    rebuild_linearly,
)
from ledger.comparing.statistics.faults.pairs import global_is_high, masked_pair
from ledger.comparing.statistics.faults.ranking import rank_window
from ledger.comparing.statistics.faults.signatures import losses
from ledger.comparing.statistics.faults.slips import ReadingKind, Slip, SlipKind, Written


def _with_error(problem: Problem, key: str, size: float) -> Problem:
    """The window as it would be with this fault added to its rows."""
    fault = next(one for one in all_hypotheses(problem) if one.key == key)
    shift = dense(fault.columns[:1], row_positions(problem))[:, 0] * size
    rows = [
        structs.replace(row, residual=row.residual + float(move)) for row, move in zip(problem.rows, shift, strict=True)
    ]
    return replace(problem, rows=rows)


# --- a receiver with a conical bottom: volume in litres by dip in mm, strength about 70 % ---


def _litres(dip: float) -> float:
    if not 0.0 <= dip <= 2400.0:
        raise ImpossibleReading(f"A dip of {dip:.0f} mm is outside the table.")
    return 1.2e-6 * dip**3 if dip < 700.0 else 1.2e-6 * 700.0**3 + 1.764 * (dip - 700.0)


class _Receiver:
    """Six runs into one receiver, dipped before and after each; charges are known to 3 LPA."""

    true_dips = (400.0, 550.0, 800.0, 1050.0, 1300.0, 1550.0, 1800.0)

    def __init__(self, wrong: dict[str, float]) -> None:
        random = np.random.default_rng(12)
        self.written = {}
        for run in range(6):
            for moment, place in (("before", run), ("after", run + 1)):
                key = f"dip {moment} {run}"
                dip = self.true_dips[place] + 0.85 * random.standard_normal()
                self.written[key] = round(dip + wrong.get(key, 0.0))
        self.received = [
            0.7 * (_litres(self.true_dips[run + 1]) - _litres(self.true_dips[run])) + 3.0 * random.standard_normal()
            for run in range(6)
        ]

    def __call__(self, problem: Problem, accepted: Sequence[Accepted], /) -> Problem:
        dips = dict(self.written)
        for one in accepted:
            if one.hypothesis.key in dips:
                assert one.right_value is not None
                dips[one.hypothesis.key] = one.right_value
        return self.build(dips)

    def build(self, dips: dict[str, float]) -> Problem:
        rows, columns = [], {key: {} for key in dips}
        for run in range(6):
            before, after = f"dip before {run}", f"dip after {run}"
            lpa = {key: 0.7 * _litres(dips[key]) for key in (before, after)}
            slope = {
                key: 0.7 * (_litres(dips[key] + 0.85) - _litres(dips[key] - 0.85)) / 1.7 for key in (before, after)
            }
            operation = f"run {run}"
            rows.append(
                Row(operation, RowKind.OPERATION, 2.0 * run + 1, self.received[run] - lpa[after] + lpa[before], 3.0)
            )
            columns[before][operation], columns[after][operation] = slope[before], -slope[after]
            if run:
                gap, last = f"gap {run}", f"dip after {run - 1}"
                rows.append(Row(gap, RowKind.CONTINUITY, 2.0 * run, lpa[before] - 0.7 * _litres(dips[last]), 0.3))
                columns[before][gap] = slope[before]
                columns[last][gap] = -0.7 * (_litres(dips[last] + 0.85) - _litres(dips[last] - 0.85)) / 1.7
        readings = [
            Reading(key, key, 0.85, columns[key], Written(ReadingKind.DIP, self.written[key], 2400.0, highest=2400.0))
            for key in dips
        ]
        return Problem(rows, readings, hypotheses=losses(rows))

    def problem(self) -> Problem:
        return self.build(self.written)


def test_a_clean_receiver_has_no_fault() -> None:
    receiver = _Receiver({})
    findings = find_faults(receiver.problem(), receiver)
    assert findings.faults == ()
    assert findings.remaining < 30.0


def test_a_large_error_on_a_curved_table_is_one_fault_of_the_right_size() -> None:
    receiver = _Receiver({"dip after 1": -500.0})
    findings = find_faults(receiver.problem(), receiver)
    assert [fault.hypothesis.key for fault in findings.faults] == ["dip after 1"]
    fault = findings.faults[0]
    assert fault.fit.size == pytest.approx(-500.0, abs=3.0 * fault.fit.uncertainty)
    assert fault.evidence.matches[0] == Slip(SlipKind.ROUND_STEP, -500.0, receiver.written["dip after 1"] + 500.0)
    assert fault.first_passed == "run 1"
    assert not global_is_high(findings.remaining, findings.degrees_of_freedom)
    # One linear step misses by far more than its uncertainty.
    linear = rank_window(open_window(receiver.problem()))[0].leading.fit
    assert abs(linear.size + 500.0) > 20.0 * linear.uncertainty


def test_two_faults_of_different_kind_are_found_and_fitted_together() -> None:
    receiver = _Receiver({"dip before 3": 100.0})
    receiver.received[4] += 60.0
    findings = find_faults(receiver.problem(), receiver)
    assert {fault.hypothesis.key for fault in findings.faults} == {"dip before 3", "loss:run 4"}
    by_key = {fault.hypothesis.key: fault for fault in findings.faults}
    assert by_key["loss:run 4"].fit.size == pytest.approx(60.0, abs=15.0)
    assert by_key["loss:run 4"].applied == 0.0
    assert by_key["dip before 3"].fit.size == pytest.approx(100.0, abs=4.0)


def test_an_impossible_right_value_is_not_accepted() -> None:
    # The last dip of the receiver: written near the top of its table, its operation gave 600 LPA more than it shows.
    receiver = _Receiver({})
    receiver.received[5] += 900.0
    findings = find_faults(receiver.problem(), receiver)
    # Either the run lost it or the closing dip is wrong; a right value above the table cannot be.
    assert [fault.hypothesis.key for fault in findings.faults] == ["loss:run 5"]
    members = {one.hypothesis.key: one for one in findings.faults[0].explanation.members}
    assert not members["dip after 5"].possible
    right = members["dip after 5"].right_value
    assert right is not None
    assert right > 2400.0


def test_equal_explanations_put_the_loss_first_and_name_the_dip() -> None:
    receiver = _Receiver({})
    receiver.received[5] += 151.3
    best = rank_window(open_window(receiver.problem()))[0]
    assert best.members[0].hypothesis.key == "loss:run 5"
    assert "dip after 5" in [member.hypothesis.key for member in best.members]


def test_joint_fit_and_plain_least_squares_agree() -> None:
    problem = two_vessels(strength_rows=True)
    window = open_window(problem)
    keys = ["B2 dip", "loss in run 2", "A2 hydrometer"]
    joint = fit_jointly(window, keys)
    columns = np.hstack([window.bank.columns_of(window.place(key)) for key in keys])
    sizes, rest, _, _ = np.linalg.lstsq(columns, window.whitening.residual)
    for place, key in enumerate(keys):
        assert joint.fits[key].size == pytest.approx(sizes[place], rel=1e-8)
        others = np.delete(columns, place, axis=1)
        alone = np.linalg.lstsq(others, window.whitening.residual)[1]
        assert joint.fits[key].statistic == pytest.approx(float(alone[0] - rest[0]), rel=1e-6, abs=1e-6)
    assert joint.remaining == pytest.approx(float(rest[0]), rel=1e-8)
    assert weakest(joint, 20.0) in ("loss in run 2", "A2 hydrometer")
    assert weakest(fit_jointly(window, ["B2 dip"]), 20.0) is None


def test_taking_the_size_out_of_the_rows_leaves_the_joint_fit_unchanged() -> None:
    problem = two_vessels(strength_rows=True)
    hypothesis = next(one for one in all_hypotheses(problem) if one.key == "B2 dip")
    plain = fit_jointly(open_window(problem), ["B2 dip"]).fits["B2 dip"]
    moved = rebuild_linearly(problem, [Accepted(hypothesis, -97.0)])
    applied = fit_jointly(open_window(moved), ["B2 dip"], {"B2 dip": -97.0}).fits["B2 dip"]
    assert applied.size == pytest.approx(plain.size, rel=1e-9)
    assert applied.statistic == pytest.approx(plain.statistic, rel=1e-9)


def test_a_fault_that_no_longer_stands_is_dropped() -> None:
    # The shadow is nearly the sum of the two true faults: it ranks first, and explains nothing beside both.
    residual = {"w": 31.0, "x": 29.0, "y": 21.7, "z": 20.3}
    rows = [Row(key, RowKind.OPERATION, 0.0, value, 1.0) for key, value in residual.items()]
    faults = [
        Hypothesis("shadow", "shadow", FaultKind.LOSS, ({"w": 1.0, "x": 1.0, "y": 0.35, "z": 0.35},)),
        Hypothesis("first", "first", FaultKind.LOSS, ({"w": 1.0, "y": 0.7},)),
        Hypothesis("second", "second", FaultKind.LOSS, ({"x": 1.0, "z": 0.7},)),
    ]
    problem = Problem(rows, hypotheses=faults)
    assert rank_window(open_window(problem))[0].leading.hypothesis.key == "shadow"
    findings = find_faults(problem)
    assert [fault.hypothesis.key for fault in findings.dropped] == ["shadow"]
    sizes = {fault.hypothesis.key: fault.fit.size for fault in findings.faults}
    assert sizes == pytest.approx({"first": 31.0, "second": 29.0})
    assert findings.remaining == pytest.approx(0.0, abs=1e-9)


def test_faults_that_hide_one_another_are_looked_for_in_the_worst_operation() -> None:
    # Both readings of one gauge wrong so that the alcohol nearly agrees: no single fault explains both rows.
    rows = [
        Row("run", RowKind.OPERATION, 1.0, 0.0, 1.0),
        Row("gap", RowKind.CONTINUITY, 0.0, 0.0, 1.0),
        *(Row(f"quiet {place}", RowKind.LIKENESS, 2.0, 0.0, 1.0) for place in range(2)),
    ]
    readings = [
        Reading("dip", "dip", 0.1, {"run": 1.0, "gap": 1.0, "quiet 0": 0.2}),
        Reading("hydrometer", "hydrometer", 0.1, {"run": 1.0, "gap": 0.9, "quiet 1": 0.2}),
    ]
    masked = _with_error(_with_error(Problem(rows, readings), "dip", 21.0), "hydrometer", -21.0)
    window = open_window(masked)
    assert max(one.comparable for one in rank_window(window)) < 20.0
    pair = masked_pair(window, (), 20.0)
    assert pair is not None
    assert {pair.first.key, pair.second.key} == {"dip", "hydrometer"}
    findings = find_faults(masked)
    assert {fault.hypothesis.key: round(fault.fit.size) for fault in findings.faults} == {
        "dip": 21,
        "hydrometer": -21,
    }
    assert masked_pair(open_window(Problem(rows, readings)), (), 20.0) is None


@pytest.mark.parametrize(
    "key", ["wash run 4 receiver after dip", "spirit run 11 charge before hydrometer", "fill 2 cask 17 gross"]
)
def test_one_slip_in_a_month_is_found_among_three_thousand(key: str) -> None:
    month = invented_month()
    reading = next(one for one in month.readings if one.key == key)
    spoilt = _with_error(month, key, 120.0 * reading.standard_uncertainty)
    findings = find_faults(spoilt)
    assert len(findings.faults) == 1
    shown = [findings.faults[0].explanation, *findings.faults[0].rivals]
    assert key in [member.hypothesis.key for one in shown for member in one.members]


def test_a_lasting_loss_is_one_fault_not_a_string_of_gains() -> None:
    month = invented_month(lasting_from=9)
    findings = find_faults(month)
    assert [fault.hypothesis.kind for fault in findings.faults] == [FaultKind.LASTING_LOSS]
    fault = findings.faults[0]
    assert fault.hypothesis.family == "spirit"
    assert fault.fit.size == pytest.approx(0.009, abs=3.0 * fault.fit.uncertainty)


def test_lasting_losses_of_two_operations_come_earliest_signal_first() -> None:
    month = _with_error(invented_month(fills=0, lasting_from=12), "lasting:wash:wash run 3", 0.02)
    findings = find_faults(month)
    assert [fault.hypothesis.family for fault in findings.faults] == ["wash", "spirit"]
    sizes = [(fault.fit.size, fault.fit.uncertainty) for fault in findings.faults]
    for (size, uncertainty), true in zip(sizes, (0.02, 0.009), strict=True):
        assert size == pytest.approx(true, abs=3.0 * uncertainty)


def test_an_instrument_that_is_off_is_named() -> None:
    month = invented_month(runs=10, fills=0)
    off = _with_error(month, "spirit hydrometer", 0.9)
    best = rank_window(open_window(off))[0].leading
    assert best.hypothesis.key == "spirit hydrometer"
    assert best.fit.size == pytest.approx(0.9, abs=3.0 * best.fit.uncertainty)


def test_an_enquiry_asks_the_neighbours_of_its_own_row_only() -> None:
    window = open_window(bypass_problem(statistics_checks()["bypass-bias"]["inputs"]["y"]))
    keys = {member.hypothesis.key for one in rank_window(window, rows={"at valve"}) for member in one.members}
    assert keys == {"bias stream 3", "bias stream 5", "leak at valve"}
    assert len(rank_window(window, limit=2)) == 2
    with pytest.raises(KeyError):
        rank_window(window, ["no such fault"])
