"""The balances that follow from gauges and flows, on a small site worked by hand (invented figures).

A closing reading enters its operation and the vessel's next gauge with one sign, an opening reading with the other: the
table of signatures of material balances in sequence (Narasimhan and Mah, AIChE J. 33 (1987), for the columns).
"""

from __future__ import annotations

import pytest

from ledger.comparing.drift.watching import Watch
from ledger.comparing.findings.findings import runs_of
from ledger.comparing.model.balance_model import BalanceModel
from ledger.comparing.model.building import balance_model_of
from ledger.comparing.model.equations import HEEL_LPA, equations_of
from ledger.comparing.observations.observed import ObservedCask
from tests.ledger.comparing.small_log import USUAL, SmallSite, flow, usual_of


def two_runs(**wrong: dict[str, float]) -> BalanceModel:
    site = SmallSite()
    site.run(wrong=wrong)
    site.run()
    return balance_model_of(site.log(), usual_of)


def test_an_operation_counts_what_is_missing_beyond_its_usual_loss() -> None:
    site = SmallSite()
    site.run(lost=30.0)
    model = balance_model_of(site.log(), usual_of)
    assert model.charges["operation:SR0001"] == pytest.approx(1000.0)
    assert model.residuals["operation:SR0001"] == pytest.approx(30.0)


def test_a_gauge_counts_what_it_found_more_than_the_last_one() -> None:
    model = two_runs(spirit_after={"dip": 1700.0})
    true_dip = 500.0 + 100.0 * 1000.0 * (1 - USUAL.share) / 70.0
    assert model.residuals["continuity:SR0002/B/spirit_before"] == pytest.approx((true_dip - 1700.0) * 0.7)
    assert model.residuals["operation:SR0001"] == pytest.approx((true_dip - 1700.0) * 0.7)


def test_a_closing_reading_enters_its_operation_and_the_next_gauge_with_one_sign() -> None:
    model = two_runs()
    column = model.columns["SR0001:spirit_after_dip_mm"]
    assert column["operation:SR0001"] == pytest.approx(-0.7)
    assert column["continuity:SR0002/B/spirit_before"] == pytest.approx(-0.7)
    assert set(column) == {"operation:SR0001", "continuity:SR0002/B/spirit_before"}


def test_an_opening_reading_enters_the_gap_before_it_and_its_operation_with_one_sign() -> None:
    model = two_runs()
    column = model.columns["SR0002:spirit_before_dip_mm"]
    assert column["operation:SR0002"] == pytest.approx(0.7)
    assert column["continuity:SR0002/B/spirit_before"] == pytest.approx(0.7)


def test_a_hydrometer_enters_the_strength_of_the_next_gauge_too() -> None:
    model = two_runs()
    column = model.columns["SR0001:spirit_after_hydrometer_percent"]
    assert column["strength:SR0002/B/spirit_before"] == pytest.approx(-1.0)
    assert column["operation:SR0001"] < 0.0


def test_a_vessel_that_only_gave_is_compared_in_strength_within_the_operation() -> None:
    lines = equations_of(a_site_of(3).log())
    drawn = [line.key for line in lines if line.key.startswith("strength:") and line.key.endswith("charge_after")]
    mixed = [line.key for line in lines if line.key.startswith("strength:") and line.key.endswith("spirit_after")]
    assert len(drawn) == 3
    assert mixed == []


def test_a_vessel_never_gauged_before_was_taken_on_empty() -> None:
    site = SmallSite(opened=False)
    site.run()
    lines = {line.key: line for line in equations_of(site.log())}
    first = lines["continuity:SR0001/B/spirit_before"]
    assert [(term.quantity, term.factor) for term in first.terms] == [("SR0001/B/spirit_before", 1.0)]
    assert first.spread == HEEL_LPA


def test_a_cask_gauged_where_it_stands_is_judged_by_how_it_ages_whatever_the_operation_is_called() -> None:
    site = a_site_of(1)
    site.gauge("W1", "weighed again", "B", "gauge", "after")
    cask = {"B": ObservedCask("barrel", 200.0, "Warehouse 1")}
    lines = {line.key: line for line in equations_of(site.log(casks=cask))}
    assert lines["operation:W1"].ages
    # Since the run filled it: B was last gauged two gauges before, an hour apart each.
    assert lines["operation:W1"].years == pytest.approx(2 / 24 / 365.2425, rel=0.01)
    # The run gauged a vessel beside it that is no cask.
    assert not lines["operation:SR0001"].ages
    plain = {line.key: line for line in equations_of(site.log())}
    assert (plain["operation:W1"].ages, plain["operation:W1"].years) == (False, 0.0)


def test_a_record_that_gauged_a_vessel_twice_is_one_run_of_a_watch() -> None:
    site = a_site_of(1)
    for name in ("first", "second"):
        site.gauge("SR0009", "spirit run", "B", name, "before")
    lines = {line.key: line for line in equations_of(site.log())}
    gaps = (lines["continuity:SR0009/B/first"], lines["continuity:SR0009/B/second"])
    last = gaps[-1]
    watch = Watch(
        "gauging of B", gaps[0], gaps[0], last, last, 1.0, 0.1, 20.0, 2.0, gaps, {one.key: 1.0 for one in gaps}
    )
    [run] = runs_of(watch)
    assert (run.record, run.at, run.charge_ul) == ("SR0009", last.at, 2_000_000)


def test_where_a_log_is_cut_the_first_gauge_is_compared_with_nothing() -> None:
    site = a_site_of(2)
    gauges = [(event.at, event.position) for event in site.events if event.measured.vessel == "B"][1:]
    log = site.log(followed={"B": (gauges[0], gauges[-1])}, cut=frozenset({"B"}))
    keys = {line.key for line in equations_of(log)}
    assert "continuity:SR0001/B/spirit_before" not in keys
    assert "continuity:SR0002/B/spirit_before" in keys
    assert not any("/A/" in key for key in keys)


def test_what_leaves_a_still_by_a_measure_is_a_known_loss() -> None:
    site = a_site_of(1)
    place = len(site.events)
    site.events.append(flow("SR0001", "WS1", "loss:spent lees", 4.0, place))
    model = balance_model_of(site.log(stills=frozenset({"WS1"})), usual_of)
    assert model.residuals["operation:SR0001"] == pytest.approx(-4.0)


def test_an_answered_explanation_counts_as_a_known_loss() -> None:
    site = SmallSite()
    site.run(lost=60.0)
    site.run()
    model = balance_model_of(site.log(explained={"SR0001": 60.0}), usual_of)
    assert model.residuals["operation:SR0001"] == pytest.approx(0.0, abs=1e-9)


def test_a_run_whose_charge_is_still_in_the_still_has_no_balance_yet() -> None:
    site = a_site_of(1)
    assert "operation:SR0001" in balance_model_of(site.log(), usual_of).equations
    assert "operation:SR0001" not in balance_model_of(site.log(unfinished=frozenset({"SR0001"})), usual_of).equations


def a_site_of(runs: int) -> SmallSite:
    site = SmallSite()
    for _ in range(runs):
        site.run()
    return site
