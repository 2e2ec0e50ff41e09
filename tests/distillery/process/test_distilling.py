"""Sums of one charge of a still against published and worked figures; their sources stand in the rows."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from distillery.alcoholometry.errors import CannotReach, NegativeQuantity, OutOfRange
from distillery.process.distilling import (
    Part,
    Said,
    balance_u95_percent,
    charge_fill_percent,
    charge_percent,
    cut_average_percent,
    gauge_u95_percent,
    judged_loss,
    loss_limits_percent,
    low_wines_lpa,
    most_recovery_percent,
    percent_of,
    recovery_percent,
    spirits_account_lpa,
    unavoidable_pot_ale_loss_percent,
    volume_litres,
)
from tests.distillery.process.process_checks import check, expected, inputs, tolerance

WASH_U95 = balance_u95_percent(
    gauge_u95_percent(volume_u_percent=0.5, strength_u=0.1, percent=8.5),
    gauge_u95_percent(volume_u_percent=0.5, strength_u=0.2, percent=25.0),
)
USUAL_WASH_LOSS = 1.0


def is_expected(key: str, found: float) -> bool:
    return found == pytest.approx(expected(key), abs=tolerance(key) or 1e-12)


def test_low_wines_of_a_charge() -> None:
    given = inputs("P042")
    found = low_wines_lpa(
        wash=Part(given["wash_l"], given["wash_abv"]), pot_ale=Part(given["pot_ale_l"], given["pot_ale_abv"])
    )
    assert is_expected("P042", found)
    assert is_expected("P043", percent_of(inputs("P043")["lpa"], inputs("P043")["litres"], what="Alcohol"))
    with pytest.raises(CannotReach):
        low_wines_lpa(wash=Part(100, 1), pot_ale=Part(100, 2))


def test_what_the_pot_ale_keeps() -> None:
    given = inputs("P044")
    found = unavoidable_pot_ale_loss_percent(
        pot_ale=Part(given["pot_ale_l"], given["pot_ale_abv"]), charged_lpa=given["wash_lpa"]
    )
    assert is_expected("P044", found)


@pytest.mark.parametrize(("key", "part"), [("P045", "pot_ale_l"), ("P046", "pot_ale_l"), ("P060", "lees_l")])
def test_shares_of_the_charge(key: str, part: str) -> None:
    given = inputs(key)
    assert is_expected(key, percent_of(given[part], given["charge_l"], what="Residue"))


def test_recovery() -> None:
    given = inputs("P047")
    assert is_expected("P047", recovery_percent(charged_lpa=given["wash_lpa"], recovered_lpa=given["low_wines_lpa"]))
    with pytest.raises(CannotReach):
        recovery_percent(charged_lpa=0, recovered_lpa=1)


@pytest.mark.parametrize(("key", "flagged"), [("P048", False), ("P049", True)])
def test_recovery_of_one_run_above_what_its_gauges_can_tell(key: str, flagged: bool) -> None:
    most = most_recovery_percent(usual_loss_percent=USUAL_WASH_LOSS, u95_percent=WASH_U95)
    assert most == pytest.approx(102.2, abs=0.05)
    given = inputs(key)
    found = recovery_percent(charged_lpa=given["wash_lpa"], recovered_lpa=given["low_wines_lpa"])
    assert (found > most) is flagged
    assert check(key).expected.startswith("flag") is flagged


def test_charge_against_the_mark() -> None:
    given = inputs("P050")
    assert is_expected("P050", charge_fill_percent(charge_litres=given["charge_l"], marked_litres=given["capacity_l"]))


def test_strength_of_a_charge() -> None:
    given = inputs("P057")
    low_wines = Part(given["V_lw"], 100 * given["L"] / given["V_lw"])
    recycled = Part(given["V_recycle"], 100 * given["R"] / given["V_recycle"])
    assert is_expected("P057", charge_percent([low_wines, recycled]))
    given = inputs("P058")
    too_strong = charge_percent(
        [Part(given["low_wines_l"], given["low_wines_abv"]), Part(given["recycle_l"], given["recycle_abv"])]
    )
    assert f"{too_strong:.2f}%" in check("P058").expected
    assert charge_percent([Part(100, 0)]) == 0
    with pytest.raises(CannotReach):
        charge_percent([])


def test_volume_and_average_of_a_cut() -> None:
    given = inputs("P059")
    assert is_expected("P059", volume_litres(lpa=given["lpa"], percent=given["abv"]))
    given = inputs("P061")
    parts = [Part(given[f"L_{place}"], given[f"abv_{place}"]) for place in (1, 2, 3)]
    assert is_expected("P061", cut_average_percent(parts))
    with pytest.raises(CannotReach):
        volume_litres(lpa=10, percent=0)


def test_spirits_account_leaves_the_remnant_out() -> None:
    given = inputs("P064")
    found = spirits_account_lpa(after_lpa=given["gauge_after_lpa"], remnant_lpa=given["remnant_lpa"])
    assert is_expected("P064", found)
    with pytest.raises(NegativeQuantity):
        spirits_account_lpa(after_lpa=10, remnant_lpa=-1)


@pytest.mark.parametrize("key", ["P094", "P096"])
def test_what_one_gauge_may_be_off_by(key: str) -> None:
    given = inputs(key)
    found = gauge_u95_percent(volume_u_percent=given["u_v_pct"], strength_u=given["u_a"], percent=given["abv"])
    assert is_expected(key, found)


def test_what_a_balance_may_be_off_by() -> None:
    one = gauge_u95_percent(volume_u_percent=0.25, strength_u=0.1, percent=63.5)
    assert is_expected("P095", balance_u95_percent(one, one))
    assert is_expected("P098", WASH_U95)


def test_limits_of_the_wash_still() -> None:
    amber, red = loss_limits_percent(usual_percent=1.0, u95_percent=3.18)
    assert is_expected("P099", amber)
    # 4.2 / 5.8 for one run, 1.6 / 1.9 for the mean of thirty: computed from the same formula.
    assert red == pytest.approx(5.8, abs=0.05)
    amber, red = loss_limits_percent(usual_percent=1.0, u95_percent=3.18, runs=30)
    assert is_expected("P100", amber)
    assert red == pytest.approx(1.9, abs=0.05)
    assert judged_loss(4.0, usual_percent=1.0, u95_percent=3.18) is Said.USUAL
    assert judged_loss(4.5, usual_percent=1.0, u95_percent=3.18) is Said.AMBER
    assert judged_loss(6.0, usual_percent=1.0, u95_percent=3.18) is Said.RED
    with pytest.raises(OutOfRange):
        loss_limits_percent(usual_percent=1.0, u95_percent=3.18, runs=0)


@given(st.lists(st.tuples(st.floats(0.1, 1e5), st.floats(0, 100)), min_size=1, max_size=6))
def test_an_average_lies_within_its_parts(drawn: list[tuple[float, float]]) -> None:
    found = cut_average_percent([Part(*one) for one in drawn])
    strengths = [percent for _, percent in drawn]
    assert min(strengths) - 1e-9 <= found <= max(strengths) + 1e-9


def test_figures_that_cannot_be_are_refused() -> None:
    with pytest.raises(NegativeQuantity):
        cut_average_percent([Part(-1, 50), Part(10, 50)])
    with pytest.raises(OutOfRange):
        charge_percent([Part(10, 101)])
