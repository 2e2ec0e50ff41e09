"""Which faults are one direction: against all pairs compared one by one, and as properties."""

import math

import numpy as np
import pytest
from balance_examples import invented_month, unhurried
from hypothesis import given
from hypothesis import strategies as st

from ledger.comparing.statistics.algebra.assembly import open_window
from ledger.comparing.statistics.algebra.chi_square import normal_quantile
from ledger.comparing.statistics.algebra.projection import FollowsFromFound, left_free, orthonormal_basis
from ledger.comparing.statistics.faults.bank import make_bank, project_bank
from ledger.comparing.statistics.faults.equivalence import (
    EQUIVALENT_COSINE,
    bank_cosine,
    cosine,
    distinct_directions,
    equivalence_groups,
    equivalent,
    probability_ranked_above,
)


@st.composite
def _banks(draw: st.DrawFn):  # type: ignore[no-untyped-def]
    rows = draw(st.integers(3, 12))
    random = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    directions = random.standard_normal((rows, 4))
    columns, counts = [], []
    for _ in range(draw(st.integers(2, 25))):
        if draw(st.booleans()):
            columns.append(directions[:, [random.integers(4)]] * random.normal() * 10.0 ** random.integers(-4, 4))
            counts.append(1)
        else:
            mixing = random.standard_normal((2, 2))
            columns.append(directions[:, :2] @ mixing)
            counts.append(2)
    return make_bank(np.hstack(columns), counts)


@unhurried
@given(_banks())
def test_groups_are_the_pairs_that_are_equivalent_and_equivalence_is_symmetric(bank) -> None:  # type: ignore[no-untyped-def]
    groups = equivalence_groups(bank)
    for first in range(bank.size):
        for second in range(bank.size):
            same = equivalent(bank, first, second)
            assert same == equivalent(bank, second, first)
            assert same == (groups[first] == groups[second])
            assert abs(bank_cosine(bank, first, second)) == pytest.approx(abs(bank_cosine(bank, second, first)))


@unhurried
@given(_banks(), st.integers(0, 2**32 - 1))
def test_the_highest_statistic_is_the_largest_of_all(bank, seed: int) -> None:  # type: ignore[no-untyped-def]
    residual = 3.0 * np.random.default_rng(seed).standard_normal(bank.columns.shape[0])
    assert bank.highest_comparable(residual) == float(bank.comparable_statistics(residual).max())


@unhurried
@given(_banks())
def test_columns_made_orthonormal_together_are_what_each_is_by_itself(bank) -> None:  # type: ignore[no-untyped-def]
    for place in np.flatnonzero(bank.usable & (bank.column_counts() > 1)):
        columns = bank.columns_of(int(place))
        alone, _ = np.linalg.qr(columns / np.linalg.norm(columns, axis=0))
        assert np.array_equal(bank.basis_of(int(place)), alone)


def test_groups_of_a_month_agree_with_all_pairs() -> None:
    window = open_window(invented_month(runs=12, fills=2, casks=12))
    groups = equivalence_groups(window.bank)
    single = np.flatnonzero(window.bank.column_counts() == 1)
    basis = window.bank.basis[:, np.searchsorted(window.bank.owner, single)]
    together = np.abs(basis.T @ basis) > EQUIVALENT_COSINE
    assert np.array_equal(together, groups[single][:, np.newaxis] == groups[single])
    assert distinct_directions(groups) < window.bank.size
    # Feints, lees and a loss of the same run are one line; so is a lasting loss that began with the last run.
    run = "spirit run 11"
    names = [f"loss:{run}", f"{run} feints", f"{run} lees", f"lasting:spirit:{run}"]
    assert len({int(groups[window.place(name)]) for name in names}) == 1


def test_nearly_parallel_is_not_equivalent() -> None:
    angle = math.acos(EQUIVALENT_COSINE)
    for part, same in ((0.9, True), (1.1, False)):
        turned = np.array([math.cos(part * angle), math.sin(part * angle)])
        bank = make_bank(np.column_stack([[1.0, 0.0], turned]), [1, 1])
        assert equivalent(bank, 0, 1) is same
        assert (equivalence_groups(bank)[0] == equivalence_groups(bank)[1]) is np.bool_(same)


def test_a_fault_that_moves_nothing_stands_in_no_group() -> None:
    bank = make_bank(np.array([[1.0, 0.0], [0.0, 0.0]]), [1, 1])
    assert list(equivalence_groups(bank)) == [0, -1]
    assert cosine(np.array([1.0, 0.0]), np.zeros(2)) == 0.0
    assert cosine(np.array([1.0, 1.0]), np.array([-2.0, -2.0])) == pytest.approx(-1.0)


def test_a_set_that_equals_another_set_is_refused() -> None:
    # Three faults in a plane: any two do what the third does.
    first, second = np.array([1.0, 0.0, 0.0]), np.array([0.0, 1.0, 0.0])
    third = 0.3 * first - 2.0 * second
    with pytest.raises(FollowsFromFound, match="as a set"):
        orthonormal_basis(np.column_stack([first, second, third]))
    bank = make_bank(np.column_stack([third, [1.0, 1.0, 1.0]]), [1, 1])
    beside = project_bank(bank, orthonormal_basis(np.column_stack([first, second])))
    assert list(beside.usable) == [False, True]


def test_left_free_is_the_joint_least_squares() -> None:
    random = np.random.default_rng(3)
    residual, found, column = (
        random.standard_normal(8),
        random.standard_normal((8, 2)),
        random.standard_normal((8, 1)),
    )
    rest, beside = left_free(residual, column, [found[:, 0], found[:, 1]])
    size = float(beside[:, 0] @ rest / (beside[:, 0] @ beside[:, 0]))
    assert size == pytest.approx(np.linalg.lstsq(np.hstack([found, column]), residual)[0][2])


def test_ranking_right_nineteen_times_in_twenty() -> None:
    # λ(1 − |ρ|) = 5.4 for 95 %, from the normal approximation of the difference of two statistics.
    assert probability_ranked_above(5.4 / 0.05, 0.95) == pytest.approx(0.95, abs=1e-3)
    assert 2.0 * normal_quantile(0.95) ** 2 == pytest.approx(5.4, abs=0.02)
    assert probability_ranked_above(100.0, -1.0) == pytest.approx(0.5)


@pytest.mark.parametrize("rho", [0.3, 0.8, 0.95])
def test_ranking_right_by_simulation(rho: float) -> None:
    random = np.random.default_rng(11)
    root = 4.0
    noise = random.standard_normal((40_000, 2))
    true = root + noise[:, 0]
    rival = rho * true + math.sqrt(1.0 - rho * rho) * noise[:, 1]
    assert np.mean(np.abs(true) > np.abs(rival)) == pytest.approx(probability_ranked_above(root**2, rho), abs=0.02)
