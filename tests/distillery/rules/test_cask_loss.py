"""Yearly loss of a cask, compounded, against worked examples of the reference texts."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from distillery.rules.cask_loss import kept_share, yearly_loss_percent, years_between


def test_the_worked_cask() -> None:
    """Excise reference, worked check 6: 127.000 to 112.054 in five years is 2.47 % a year compound, 2.35 simple."""
    assert yearly_loss_percent(127.000, 112.054, 5) == pytest.approx(2.47, abs=0.005)


def test_the_worked_band() -> None:
    """Process reference on casks: 127.0 after ten years 103.8 at 2 %, band 93.7 to 114.9; 18.3 % and not 20."""
    assert 127.0 * kept_share(0.02, 10) == pytest.approx(103.8, abs=0.05)
    assert 127.0 * kept_share(0.03, 10) == pytest.approx(93.7, abs=0.05)
    assert 127.0 * kept_share(0.01, 10) == pytest.approx(114.9, abs=0.05)
    assert 100 * (1 - kept_share(0.02, 10)) == pytest.approx(18.3, abs=0.05)


@given(st.floats(1, 500), st.floats(0.001, 0.2), st.floats(0.1, 40))
def test_what_is_left_and_the_yearly_loss_are_each_other_s_inverse(filled: float, share: float, years: float) -> None:
    left = filled * kept_share(share, years)
    assert yearly_loss_percent(filled, left, years) == pytest.approx(100 * share, rel=1e-9)


def test_a_gain_is_a_loss_below_nothing() -> None:
    assert yearly_loss_percent(100, 101, 1) == pytest.approx(-1)


@pytest.mark.parametrize(("before", "after", "years"), [(0, 1, 1), (100, -1, 1), (100, 90, 0), (100, 90, -1)])
def test_what_has_no_yearly_loss_is_refused(before: float, after: float, years: float) -> None:
    with pytest.raises(ValueError, match="No yearly loss"):
        yearly_loss_percent(before, after, years)


def test_years_are_of_365_and_a_quarter_days() -> None:
    start = datetime(2020, 3, 1, tzinfo=UTC)
    assert years_between(start, start + timedelta(days=1461)) == 4
