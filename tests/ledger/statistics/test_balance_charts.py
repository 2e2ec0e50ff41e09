"""Charts and run lengths: tables of the NIST handbook, independent run lengths, simulation (see the check files)."""

import numpy as np
import pytest
from balance_examples import charts_checks, statistics_checks
from run_lengths import (
    average_run_length,
    false_signals,
    signal_probability,
    two_sided_average_run_length,
)

from ledger.comparing.statistics.algebra.chi_square import normal_cdf
from ledger.comparing.statistics.charts.charts import (
    ABRUPT,
    PROTRACTED,
    SINGLE_CHART,
    CusumSetting,
    cusum,
    ewma,
)

CHARTS = charts_checks()
ARL = statistics_checks()["arl"]["expected"]


def test_cusum_of_the_handbook() -> None:
    check = CHARTS["cusum"]
    deviations = [value - check["target"] for value in check["x"]]
    chart = cusum(deviations, CusumSetting(check["k_times_sigma"], check["h_times_sigma"]), limit=None)
    assert chart.upper == pytest.approx(check["upper"], abs=0.0101)
    assert chart.lower == pytest.approx(check["lower"], abs=0.0101)
    assert chart.signals[0].run + 1 == check["first_alarm_counted_from_1"]
    assert len(chart.signals) == 1
    assert sum(deviations) == pytest.approx(check["cumulative_end"], abs=0.01)


def test_ewma_of_the_handbook() -> None:
    check = CHARTS["ewma"]
    chart = ewma(check["x"], check["lambda"], check["start"], check["s"])
    assert chart.values == pytest.approx(check["ewma"], abs=0.0101)
    assert chart.upper_limit == pytest.approx(check["upper_limit"], abs=1.1e-4)
    assert chart.lower_limit == pytest.approx(check["lower_limit"], abs=1.1e-4)
    assert chart.outside == ()
    with pytest.raises(ValueError, match="between 0 and 1"):
        ewma([1.0], 0.0, 0.0, 1.0)


def test_slow_rise_of_a_loss_is_dated() -> None:
    check = CHARTS["loss-cusum"]
    z = [(loss - check["mean"]) / check["sigma"] for loss in check["losses"]]
    chart = cusum(z, CusumSetting(check["k"], check["h"]))
    assert chart.upper == pytest.approx(check["upper"], abs=5.1e-5)
    signal = chart.signals[0]
    assert signal.run + 1 == check["alarm_counted_from_1"]
    assert signal.onset + 1 == check["onset_counted_from_1"]
    assert signal.loss


def test_one_slip_alone_does_not_signal_and_gains_do() -> None:
    for setting in (PROTRACTED, ABRUPT, SINGLE_CHART):
        assert not cusum([0.0] * 10 + [40.0] + [0.0] * 10, setting).signals
    gains = cusum([-2.0] * 12, SINGLE_CHART)
    assert not gains.signals[0].loss
    assert gains.signals[0].onset == 0


def test_head_start_restart_and_watching() -> None:
    late = cusum([1.5] * 12, SINGLE_CHART).signals[0].run
    early = cusum([1.5] * 12, SINGLE_CHART, head_start=True).signals[0].run
    assert early < late
    again = cusum([1.5] * 20, SINGLE_CHART, restart=True)
    assert [signal.run for signal in again.signals] == [5, 11, 17]
    assert [signal.onset for signal in again.signals] == [0, 6, 12]
    assert len(cusum([1.5] * 20, SINGLE_CHART).signals) == 1
    assert cusum([0.0] * 7).watching
    assert not cusum([0.0] * 8).watching


@pytest.mark.parametrize("row", ARL, ids=lambda row: f"k{row['k']}-h{row['h']}")
def test_run_lengths_by_markov_chain(row: dict) -> None:  # type: ignore[type-arg]
    setting = CusumSetting(row["k"], row["h"])
    for shift, expected in row["arl"].items():
        assert average_run_length(setting, float(shift)) == pytest.approx(expected, rel=2e-3, abs=5e-3)
    assert signal_probability(setting, 30) == pytest.approx(row["p_false_in_30"], rel=0.02, abs=1e-4)
    assert signal_probability(setting, 100) == pytest.approx(row["p_false_in_100"], rel=0.02)


def test_further_run_lengths_and_both_sides() -> None:
    check = CHARTS["arl"]
    for h in (4, 5):
        for shift, expected in zip(check["shift"], check[f"h={h}"], strict=True):
            assert average_run_length(CusumSetting(check["k"], h), shift) == pytest.approx(expected, rel=6e-3)
        both = two_sided_average_run_length(CusumSetting(check["k"], h))
        assert both == pytest.approx(check["two_sided_no_shift"][str(h)], abs=0.6)


def test_one_run_charts_have_the_run_length_of_their_limit() -> None:
    # With h near zero a chart signals when z > k: run length 1/P(z > 3) = 741, half of it for both sides (370).
    shewhart = CusumSetting(3.0, 1e-9)
    assert average_run_length(shewhart) == pytest.approx(1.0 / normal_cdf(-3.0), rel=1e-6)
    assert two_sided_average_run_length(shewhart, 1.0) == pytest.approx(43.9, abs=0.05)


@pytest.mark.parametrize(
    ("setting", "shift"), [(PROTRACTED, 0.5), (SINGLE_CHART, 1.0), (ABRUPT, 1.0), (SINGLE_CHART, 0.0)]
)
@pytest.mark.parametrize("limit", [None, 2.0])
def test_run_lengths_by_simulation(setting: CusumSetting, shift: float, limit: float | None) -> None:
    random = np.random.default_rng(5)
    series = 3_000
    sums, lengths = np.zeros(series), np.zeros(series)
    running = np.ones(series, dtype=bool)
    while running.any() and lengths.max() < 20_000:
        z = random.standard_normal(int(running.sum())) + shift
        if limit is not None:
            z = np.clip(z, -limit, limit)
        lengths[running] += 1
        sums[running] = np.maximum(0.0, sums[running] + z - setting.k)
        running &= sums <= setting.h
    assert not running.any()
    assert lengths.mean() == pytest.approx(average_run_length(setting, shift, limit=limit), rel=0.05)


def test_head_start_halves_the_wait_for_a_real_shift() -> None:
    # Fast initial response: about 6.4 runs for 1 σ with k 0.5, h 5 and start h/2 (Lucas and Crosier 1982, from memory).
    assert average_run_length(SINGLE_CHART, 1.0, head_start=True) == pytest.approx(6.35, abs=0.1)


def test_false_signals_of_a_small_plant() -> None:
    # Two types of run, twenty runs a month, two directions, both charts: at most 0.12; 0.05 from a start at zero.
    charts = [(setting, 20) for setting in (PROTRACTED, ABRUPT) for _ in range(2)]
    assert false_signals(charts) == pytest.approx(0.12, abs=0.005)
    from_zero = sum(2.0 * signal_probability(setting, runs) for setting, runs in charts)
    assert from_zero == pytest.approx(0.05, abs=0.01)
