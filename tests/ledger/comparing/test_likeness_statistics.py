"""What a kind usually is and how far off one lies, against tables of Student's t and by simulation."""

from __future__ import annotations

from math import inf
from random import Random

import pytest

from ledger.comparing.model.kinds.estimate import FEWEST_ALIKE, estimate_kind, normal_deviate


# Upper points of Student's t and of the normal distribution, NIST/SEMATECH e-Handbook 1.3.6.7.1 and 1.3.6.7.2 (values
# from memory): the same tail must come out as the same deviate, to a hundredth.
@pytest.mark.parametrize(
    ("freedom", "t", "normal"),
    [
        (5, 2.571, 1.960),
        (5, 5.893, 3.090),
        (10, 2.228, 1.960),
        (10, 4.144, 3.090),
        (20, 2.086, 1.960),
        (20, 3.552, 3.090),
        (60, 3.232, 3.090),
    ],
)
def test_a_deviate_is_as_unlikely_as_the_t_it_stands_for(freedom: float, t: float, normal: float) -> None:
    assert normal_deviate(t, freedom) == pytest.approx(normal, rel=0.01)
    assert normal_deviate(-t, freedom) == pytest.approx(-normal, rel=0.01)


def test_a_known_spread_is_taken_as_it_is() -> None:
    usual = estimate_kind((), 63.5, 0.1)
    assert usual is not None
    assert usual.freedom == inf
    assert usual.counted == 0
    assert usual.deviate(63.8) == pytest.approx(3.0)
    # 0.1 and 0.075 add by squares to 0.125.
    assert usual.deviate(63.8, uncertainty=0.075) == pytest.approx(2.4)


def test_it_is_silent_with_too_little() -> None:
    seven = [20.0, 21.0, 19.0, 20.5, 19.5, 20.2, 19.8]
    assert estimate_kind(seven, None, None) is None
    assert estimate_kind(seven, None, 0.5) is None
    assert estimate_kind(seven, 22.0, None) is None
    usual = estimate_kind([*seven, 20.1], None, None)
    assert usual is not None
    assert usual.counted == FEWEST_ALIKE == 8
    # The median of the eight, worked by hand: between 20.0 and 20.1.
    assert usual.expected == pytest.approx(20.05)


def test_the_sites_figure_holds_until_there_are_eight() -> None:
    before = estimate_kind([50.0] * 7, 98.5, 1.0)
    after = estimate_kind([50.0, 51.0] * 4, 98.5, 1.0)
    assert before is not None
    assert after is not None
    assert (before.expected, after.expected) == (98.5, 50.5)


def test_equal_figures_say_nothing_of_the_spread_unless_the_site_does() -> None:
    assert estimate_kind([4.0] * 12, None, None) is None
    usual = estimate_kind([4.0] * 12, None, 0.5)
    assert usual is not None
    assert 0.0 < usual.spread < 0.5


def test_one_wrong_figure_among_the_others_changes_little() -> None:
    right = [float(value) for value in (47, 48, 49, 50, 46, 48, 49, 47, 50, 48)]
    clean, spoilt = estimate_kind(right, None, None), estimate_kind([*right[:-1], 480.0], None, None)
    assert clean is not None
    assert spoilt is not None
    assert spoilt.expected == pytest.approx(clean.expected, abs=1.0)
    assert spoilt.spread < 2 * clean.spread


@pytest.mark.parametrize("count", [8, 12, 20, 40])
@pytest.mark.parametrize("held", [None, 1.0])
def test_clean_figures_pass_three_no_oftener_than_they_should(count: int, held: float | None) -> None:
    rng = Random(count)
    draws, beyond = 6000, 0
    for _ in range(draws):
        usual = estimate_kind([rng.gauss(0.0, 1.0) for _ in range(count)], None, held)
        assert usual is not None
        beyond += abs(usual.deviate(rng.gauss(0.0, 1.0))) > 3.0
    # 0.0027 of normal deviates lie beyond three: 16 of 6,000, and three times their own spread more.
    assert beyond <= 16 + 3 * 4
