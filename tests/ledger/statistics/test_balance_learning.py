"""Centre and spread of what is usual, and judging V by its own innovations."""

import numpy as np
import pytest

from ledger.comparing.statistics.algebra.robust import median_and_spread
from ledger.comparing.statistics.health import FEWEST_ROWS, UncertaintyFit, health


def test_median_and_spread_of_normal_values() -> None:
    values = list(np.random.default_rng(2).normal(5.0, 2.0, 20_000))
    centre, spread = median_and_spread(values)
    assert centre == pytest.approx(5.0, abs=0.05)
    assert spread == pytest.approx(2.0, rel=0.03)


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
