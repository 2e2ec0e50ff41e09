"""Learning the usual loss from history, and judging V by its own innovations."""

import numpy as np
import pytest
from balance_examples import unhurried
from hypothesis import given
from hypothesis import strategies as st

from ledger.comparing.statistics.algebra.robust import UsualShare, huber_mean, median_and_spread, usual_share
from ledger.comparing.statistics.health import FEWEST_ROWS, UncertaintyFit, health

REFERENCE = UsualShare(0.011, 0.002, 0.0015)


def test_median_and_spread_of_normal_values() -> None:
    values = list(np.random.default_rng(2).normal(5.0, 2.0, 20_000))
    centre, spread = median_and_spread(values)
    assert centre == pytest.approx(5.0, abs=0.05)
    assert spread == pytest.approx(2.0, rel=0.03)


def test_huber_is_nearly_as_good_as_the_mean_on_normal_values() -> None:
    # 95 % efficiency at k = 1.345 (from memory): variance 1/0.95 of the mean's.
    draws = np.random.default_rng(4).standard_normal((1_500, 25))
    estimates = np.array([huber_mean(list(row)) for row in draws])
    assert estimates.var() / draws.mean(axis=1).var() == pytest.approx(1.0 / 0.95, abs=0.05)


def test_huber_is_not_led_astray() -> None:
    values = [1.0, 1.1, 0.9, 1.05, 0.95, 1.02, 0.98, 50.0]
    assert huber_mean(values) == pytest.approx(1.0, abs=0.06)
    assert huber_mean([2.0, 2.0, 2.0, 9.0]) == 2.0


@unhurried
@given(st.lists(st.floats(-100.0, 100.0), min_size=3, max_size=40), st.floats(-50.0, 50.0), st.floats(0.1, 10.0))
def test_huber_moves_with_its_values(values: list[float], shift: float, scale: float) -> None:
    moved = huber_mean([scale * value + shift for value in values])
    assert moved == pytest.approx(scale * huber_mean(values) + shift, rel=1e-6, abs=1e-6)


def test_reference_stands_until_twenty_clean_runs() -> None:
    shares = list(np.random.default_rng(8).normal(0.008, 0.002, 19))
    assert usual_share(shares, REFERENCE) == REFERENCE
    learnt = usual_share([*shares, 0.008], REFERENCE)
    assert learnt.runs == 20
    assert learnt.mean == pytest.approx(0.008, abs=0.0015)
    assert learnt.doubt == pytest.approx(learnt.spread / 20**0.5)


def test_gauges_own_uncertainty_is_not_counted_twice() -> None:
    shares = list(np.random.default_rng(9).normal(0.008, 0.005, 400))
    learnt = usual_share(shares, REFERENCE, [0.004] * 400)
    assert learnt.spread == pytest.approx(0.003, rel=0.2)
    assert usual_share(shares, REFERENCE, [0.02] * 400).spread == 0.0
    with pytest.raises(ValueError, match="one measurement uncertainty"):
        usual_share(shares, REFERENCE, [0.004])


@pytest.mark.parametrize(
    ("scale", "verdict"),
    [(1.0, UncertaintyFit.FITS), (1.4, UncertaintyFit.STATED_TOO_SMALL), (0.7, UncertaintyFit.STATED_TOO_LARGE)],
)
def test_health_of_the_uncertainties(scale: float, verdict: UncertaintyFit) -> None:
    residual = scale * np.random.default_rng(6).standard_normal(650)
    judged = health(residual)
    assert judged.verdict is verdict
    assert judged.ratio == pytest.approx(scale**2, rel=0.15)
    assert judged.standard_deviation == pytest.approx(scale, rel=0.08)


def test_few_rows_are_not_judged() -> None:
    assert health(np.full(FEWEST_ROWS - 1, 3.0)).verdict is UncertaintyFit.TOO_FEW_ROWS
    with pytest.raises(ValueError, match="two rows"):
        health(np.ones(1))
