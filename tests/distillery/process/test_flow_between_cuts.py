"""A curve through what is known to have run off: it meets every point, never falls and has no kink."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from distillery.process.flow import between

# Heads, hearts and tails of a run: hours and litres, worked by hand.
KNOWN = [(0.0, 0.0), (0.5, 60.0), (3.5, 1460.0), (7.5, 5000.0)]


def test_it_meets_every_point_and_is_straight_where_they_are() -> None:
    assert [between(KNOWN, along) for along, _ in KNOWN] == pytest.approx([litres for _, litres in KNOWN])
    line = [(0.0, 0.0), (1.0, 2.0), (4.0, 8.0)]
    assert between(line, 2.5) == pytest.approx(5.0)


def test_its_slope_is_the_same_on_both_sides_of_a_cut() -> None:
    step = 1e-5
    for along, litres in KNOWN[1:-1]:
        before = (litres - between(KNOWN, along - step)) / step
        after = (between(KNOWN, along + step) - litres) / step
        assert after == pytest.approx(before, rel=1e-3)
    # Flows of 120, 467 and 885 L an hour meet in between.
    assert 120 < (between(KNOWN, 0.5 + step) - 60.0) / step < 467


@settings(max_examples=60)
@given(st.lists(st.tuples(st.floats(0.1, 5), st.floats(0, 2000)), min_size=1, max_size=6))
def test_it_never_falls(steps: list[tuple[float, float]]) -> None:
    known = [(0.0, 0.0)]
    for width, rise in steps:
        known.append((known[-1][0] + width, known[-1][1] + rise))
    heights = [between(known, min(known[-1][0], known[-1][0] * part / 50)) for part in range(51)]
    assert all(later >= one - 1e-6 for one, later in pairwise(heights))


@pytest.mark.parametrize("known", [[(0.0, 0.0)], [(0.0, 0.0), (0.0, 1.0)], [(0.0, 1.0), (1.0, 0.0)]])
def test_what_is_no_curve_is_refused(known: list[tuple[float, float]]) -> None:
    with pytest.raises(ValueError, match="two points or more"):
        between(known, 0.0)


def test_nothing_is_said_beyond_the_ends() -> None:
    with pytest.raises(ValueError, match="lies outside"):
        between(KNOWN, 8.0)
