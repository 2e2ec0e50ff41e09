"""Slips: the Bayes factor (see the check file) and the candidates that common practice knows (no source)."""

from random import Random

import pytest
from balance_examples import statistics_checks, unhurried
from hypothesis import given
from hypothesis import strategies as st

from ledger.comparing.statistics.faults.slips import (
    EVIDENCE_LIMIT,
    ReadingKind,
    Slip,
    SlipKind,
    Written,
    bayes_factor,
    candidate_slips,
    is_possible,
    nearest_possible_size,
    possible_limits,
    weigh_slips,
    weigh_written,
)

CHECK = statistics_checks()["slip-evidence"]


def _right_values(written: Written) -> set[float]:
    return {round(slip.right_value, 6) for slip in candidate_slips(written) if slip.right_value is not None}


def test_bayes_factors() -> None:
    inputs = CHECK["inputs"]
    step, furthest = inputs["count_step"], inputs["count_furthest"]
    lists = {
        "dip": (inputs["dip_slips"], inputs["dip_range"]),
        "count": (list(range(-furthest, furthest + 1, step)), inputs["count_range"]),
    }
    for name, expected in CHECK["expected"].items():
        kind, _, size, _, uncertainty = name.split()
        slips, size_range = lists[kind]
        # The smallest check value is given to one figure.
        tolerance = {"rel": 0.5} if expected < 1e-3 else {"rel": 2e-4, "abs": 5.1e-4}
        assert bayes_factor(float(size), float(uncertainty), slips, size_range) == pytest.approx(expected, **tolerance)


def test_own_uncertainty_is_added_in_quadrature_only_when_given() -> None:
    apart = bayes_factor(-99.0, 0.8, [-100.0], 2400.0, reading_uncertainty=0.6)
    assert apart == pytest.approx(bayes_factor(-99.0, 1.0, [-100.0], 2400.0))


def test_no_list_is_no_evidence_and_a_range_is_needed() -> None:
    assert bayes_factor(3.0, 1.0, [], 100.0) == 1.0
    assert weigh_slips([], 3.0, 1.0, 100.0).two_ln == 0.0
    with pytest.raises(ValueError, match="above zero"):
        bayes_factor(3.0, 0.0, [1.0], 100.0)


@unhurried
@given(st.floats(-3000.0, 3000.0), st.floats(0.01, 50.0))
def test_evidence_never_overrules_the_balances(size: float, uncertainty: float) -> None:
    written = Written(ReadingKind.DIP, 827.0, 2400.0, highest=2400.0)
    evidence = weigh_written(written, size, uncertainty)
    assert -EVIDENCE_LIMIT <= evidence.two_ln <= EVIDENCE_LIMIT
    assert all(abs(size - slip.size) <= 2.0 * uncertainty for slip in evidence.matches)


def test_dip_written_a_hundred_short_fits_a_round_step() -> None:
    written = Written(ReadingKind.DIP, 827.0, 2400.0, highest=2400.0)
    evidence = weigh_written(written, -99.8, 1.2)
    assert evidence.two_ln > 0.0
    best = evidence.matches[0]
    assert (best.kind, best.size, best.right_value) == (SlipKind.ROUND_STEP, -100.0, 927.0)
    assert weigh_written(written, -93.0, 0.5).two_ln == -EVIDENCE_LIMIT


@pytest.mark.parametrize(
    ("written", "size", "uncertainty"),
    [
        (Written(ReadingKind.DIP, 827.0, 2400.0, highest=2400.0), -60.0, 1.2),
        (Written(ReadingKind.DIP, 827.0, 2400.0, highest=2400.0), 4.0, 0.4),
        (Written(ReadingKind.HYDROMETER, 61.5, 97.0, decimals=1), -0.4, 0.02),
        (Written(ReadingKind.WEIGHT, 231.0, 231.0), -40.0, 0.2),
    ],
)
def test_one_wrong_digit_alone_never_speaks_for_a_reading(written: Written, size: float, uncertainty: float) -> None:
    """Balance statistics, table of slips: one digit wrong is weak evidence, for there are many candidates."""
    evidence = weigh_written(written, size, uncertainty)
    assert [slip.kind for slip in evidence.matches] == [SlipKind.ONE_DIGIT]
    assert -EVIDENCE_LIMIT < evidence.two_ln <= 0.0


def test_the_hydrometer_that_was_misread_stands_before_a_dip_that_differs_by_a_digit() -> None:
    """A round misreading of the hydrometer against a dip wrong by as much alcohol, over figures as they are written:
    where the dip fits no telling slip of its own the hydrometer has more to say for it, whatever the dip's digits."""
    draw = Random(1)
    before = asked = 0
    for _ in range(2000):
        off = draw.choice([1, 2, 3, 5, 10]) * draw.choice([1, -1])
        hydrometer = Written(ReadingKind.HYDROMETER, round(draw.uniform(55, 72), 1), 97.0, decimals=1)
        dip = Written(ReadingKind.DIP, float(draw.randint(300, 1900)), 2400.0, lowest=1.0, highest=2400.0)
        other = weigh_written(dip, off / 63.0 * dip.value + draw.gauss(0.0, 1.2), 1.8)
        if any(slip.kind is not SlipKind.ONE_DIGIT for slip in other.matches):
            continue
        asked += 1
        before += weigh_written(hydrometer, off + draw.gauss(0.0, 0.1), 0.12).two_ln > other.two_ln
    assert asked > 500
    assert before / asked > 0.97


def test_candidates_of_a_dip() -> None:
    values = _right_values(Written(ReadingKind.DIP, 827.0, 2400.0, highest=2400.0))
    # Round steps, decimal place, swaps (872, 287, 728), one digit.
    assert {837.0, 777.0, 927.0, 627.0, 1327.0, 1827.0, 82.7, 872.0, 287.0, 728.0, 820.0} <= values
    # Above the table (8270), below the bottom, and the value itself are no candidates.
    assert 8270.0 not in values
    assert min(values) >= 0.0
    assert 827.0 not in values


def test_a_value_with_decimals_swaps_its_digits_as_written() -> None:
    values = _right_values(Written(ReadingKind.HYDROMETER, 61.5, 100.0, decimals=1, stem_steps=(20.0,)))
    assert {16.5, 65.1, 51.6, 62.5, 56.5, 71.5, 81.5, 6.15} <= values
    assert all(0.0 <= value <= 97.0 for value in values)


def test_temperatures_that_cannot_be_are_dropped() -> None:
    written = Written(ReadingKind.TEMPERATURE, 31.0, 45.0, decimals=1, previous=18.0)
    assert possible_limits(written) == (3.0, 33.0)
    values = _right_values(written)
    assert {21.0, 11.0, 20.0, 13.0, 18.0} <= values
    assert max(values) <= 33.0
    # An estimated size that would make the true value -17 °C is impossible.
    assert not is_possible(Written(ReadingKind.TEMPERATURE, 18.0, 45.0), 34.7, 0.5)
    assert is_possible(Written(ReadingKind.TEMPERATURE, 18.0, 45.0), 18.5, 0.5)
    assert nearest_possible_size(Written(ReadingKind.TEMPERATURE, 18.0, 45.0), 34.7) == 18.0


def test_surroundings_of_a_value() -> None:
    written = Written(
        ReadingKind.GRAVITY,
        1.052,
        0.2,
        decimals=3,
        counterpart=0.998,
        neighbours=(("line above", 1.049),),
        previous=1.052,
    )
    by_kind = {slip.kind: slip for slip in candidate_slips(written)}
    assert by_kind[SlipKind.EXCHANGED].right_value == 0.998
    assert by_kind[SlipKind.NEIGHBOUR].about == "line above"
    assert SlipKind.LAST_VALUE not in by_kind
    assert {1.053, 1.05, 1.057, 1.042, 1.152, 1.025} <= _right_values(written)


def test_tare_and_whole_cases() -> None:
    assert {141.0, 41.0} <= _right_values(Written(ReadingKind.WEIGHT, 91.0, 300.0, tare=50.0))
    count = Written(ReadingKind.COUNT, 600.0, 2400.0, case_size=6)
    cases = [slip for slip in candidate_slips(count) if slip.kind is SlipKind.WHOLE_CASES]
    assert all(slip.size % 6 == 0 for slip in cases)
    # Every count is near a multiple of six: nothing is learnt when b is only known to ±4.8.
    assert abs(weigh_slips(cases, -115.2, 4.8, 2400.0).two_ln) < 1.5


def test_a_movement_written_twice_has_its_amount_as_slip() -> None:
    evidence = weigh_slips([Slip(SlipKind.MOVEMENT, -612.0)], -611.0, 2.0, 3000.0)
    assert evidence.matches[0].size == -612.0
    # 3000/(2·√2π) · exp(−1/8) = 528: 2 ln is 12.5, held at the limit.
    assert evidence.bayes_factor == pytest.approx(528.1, abs=0.1)
    assert evidence.two_ln == EVIDENCE_LIMIT


@unhurried
@given(
    st.sampled_from(list(ReadingKind)),
    st.integers(0, 99_999),
    st.integers(0, 3),
)
def test_each_right_value_is_possible_and_listed_once(kind: ReadingKind, digits: int, decimals: int) -> None:
    written = Written(kind, digits / 10**decimals, 2000.0, decimals=decimals, highest=20_000.0)
    slips = candidate_slips(written)
    lowest, highest = possible_limits(written)
    values = [slip.right_value for slip in slips]
    assert len(set(values)) == len(values)
    assert all(value is not None and lowest <= value <= highest for value in values)
    assert all(slip.size == pytest.approx(written.value - (slip.right_value or 0.0)) for slip in slips)
