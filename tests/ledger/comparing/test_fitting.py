"""How well an explanation fits, in words, at the limits of the words.

The likelihood ratio of two explanations is exp((T1 - T2) / 2) (Kass and Raftery, J. Am. Stat. Assoc. 90 (1995) 773-795,
from memory). So twenty to one is T apart by 2 ln 20 = 5.9915, a thousand to one by 2 ln 1000 = 13.8155 (by hand).
"""

from __future__ import annotations

import pytest

from ledger.comparing.findings.fitting import FAR_APART, Fit, fit_beside
from ledger.comparing.statistics.faults.levels import NOT_SEPARATED


def test_the_limits_are_twenty_and_a_thousand_to_one() -> None:
    assert pytest.approx(5.991464547) == NOT_SEPARATED
    assert pytest.approx(13.815510558) == FAR_APART


@pytest.mark.parametrize(
    ("first", "other", "fit"),
    [
        (100.0, 100.0, Fit.AS_WELL),
        (100.0, 94.01, Fit.AS_WELL),
        (100.0, 94.0, Fit.BETTER),
        (100.0, 86.19, Fit.BETTER),
        (100.0, 86.18, Fit.FAR_BETTER),
        (94.01, 100.0, Fit.AS_WELL),
        (94.0, 100.0, Fit.LESS_WELL),
        (86.19, 100.0, Fit.LESS_WELL),
        (86.18, 100.0, Fit.FAR_LESS_WELL),
        (NOT_SEPARATED, 0.0, Fit.BETTER),
        (FAR_APART, 0.0, Fit.FAR_BETTER),
        (0.0, FAR_APART, Fit.FAR_LESS_WELL),
    ],
)
def test_words_go_by_how_far_apart_two_explanations_are(first: float, other: float, fit: Fit) -> None:
    assert fit_beside(first, other) is fit
