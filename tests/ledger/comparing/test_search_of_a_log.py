"""Finding on a small site worked by hand: one fault each, and what must not be said when nothing is wrong."""

from __future__ import annotations

import pytest

from ledger.comparing.compare import Comparison, compare
from ledger.comparing.drift.watching import watch
from ledger.comparing.findings.judging import Outcome, judge_all
from ledger.comparing.observations.observed import Log
from tests.ledger.comparing.small_log import NoTables, SmallSite, remeasure, usual_of


def searched(log: Log) -> Comparison:
    return compare(log, NoTables(), expected_loss=usual_of, remeasure=remeasure)


def found(log: Log) -> list[str]:
    return [one.fault.hypothesis.key for one in searched(log).search.found]


def test_nothing_is_found_where_nothing_is_wrong() -> None:
    site = SmallSite()
    for _ in range(6):
        site.run()
    month = searched(site.log())
    assert month.search.found == []
    assert month.watched.watches == ()
    assert {one.outcome for one in judge_all(month.search).values()} == {Outcome.ACCEPTED}


def test_a_dip_written_100_mm_short_is_named_and_its_right_value_worked_out() -> None:
    site = SmallSite()
    site.run()
    true = site.held["B"][0] + 100.0 * 1000.0 * 0.996 / 70.0
    site.run(wrong={"spirit_after": {"dip": round(true) - 100.0}})
    site.run()
    (one,) = searched(site.log()).search.found
    assert one.fault.hypothesis.key == "SR0002:spirit_after_dip_mm"
    assert one.fault.fit.size == pytest.approx(-100.0, abs=4.0)
    assert {"operation:SR0002", "continuity:SR0003/B/spirit_before"} == set(one.moved)


def test_a_hydrometer_misread_by_three_is_told_from_the_dip_by_the_strength_of_the_next_gauge() -> None:
    site = SmallSite()
    site.run()
    site.run(wrong={"spirit_after": {"percent": 67.0}})
    site.run()
    assert found(site.log()) == ["SR0002:spirit_after_hydrometer_percent"]


def test_a_true_loss_shows_once_and_is_named_as_a_loss() -> None:
    site = SmallSite()
    site.run()
    site.run(lost=80.0)
    site.run()
    (one,) = searched(site.log()).search.found
    assert one.fault.hypothesis.key == "loss:operation:SR0002"
    assert one.fault.fit.size == pytest.approx(80.0, abs=8.0)


def test_alcohol_that_left_a_vessel_unwritten_is_named_by_the_vessel() -> None:
    site = SmallSite()
    site.run()
    site.empty_b(written=False)
    site.run()
    (one,) = searched(site.log()).search.found
    assert one.fault.hypothesis.label == "B to nowhere known"


def test_a_loss_at_the_end_of_what_is_known_stands_beside_the_last_dip() -> None:
    site = SmallSite()
    site.run()
    site.run(lost=80.0)
    (one,) = searched(site.log()).search.found
    members = {member.hypothesis.key for member in one.fault.explanation.members}
    assert {"loss:operation:SR0002", "SR0002:spirit_after_dip_mm"} <= members
    assert one.fault.hypothesis.key == "loss:operation:SR0002"


def test_a_second_fault_is_found_beside_the_first() -> None:
    site = SmallSite()
    site.run()
    site.run(wrong={"spirit_after": {"percent": 67.0}})
    site.run()
    site.run(lost=80.0)
    site.run()
    assert sorted(found(site.log())) == ["SR0002:spirit_after_hydrometer_percent", "loss:operation:SR0004"]


def test_a_lasting_loss_of_one_per_cent_opens_a_watch_that_says_since_when_and_how_much() -> None:
    site = SmallSite()
    for run in range(1, 13):
        site.run(share=0.01 if run >= 7 else 0.0)
    (one,) = searched(site.log()).watched.watches
    assert one.family == "spirit run"
    assert one.earliest.doing.record <= "SR0007" <= one.latest.doing.record
    assert one.share == pytest.approx(0.01, abs=0.003)
    assert one.total == pytest.approx(60.0, rel=0.3)


def test_a_slip_alone_drives_no_chart() -> None:
    site = SmallSite()
    for run in range(1, 13):
        wrong = {"spirit_after": {"percent": 67.0}} if run == 5 else {}
        site.run(wrong=wrong)
    month = searched(site.log())
    assert month.watched.watches == ()
    (chart,) = [one for one in watch(month.search.model).charts if one.family == "spirit run"]
    assert chart.verdict
    assert chart.slow.signals == ()
    assert max(abs(value) for value in chart.values) < 2.0


def test_outside_the_threshold_and_told_apart_is_an_enquiry() -> None:
    site = SmallSite()
    site.run()
    site.run(lost=60.0)
    site.run()
    month = searched(site.log())
    before = judge_all(month.as_written)
    assert before["operation:SR0002"].outcome is Outcome.ENQUIRY
    assert before["operation:SR0001"].outcome is Outcome.ACCEPTED
    assert before["operation:SR0002"].threshold == pytest.approx(26.0, rel=0.01)


def test_gains_are_judged_like_losses() -> None:
    site = SmallSite()
    site.run()
    site.run(lost=-60.0)
    site.run()
    judged = judge_all(searched(site.log()).as_written)["operation:SR0002"]
    assert judged.difference == pytest.approx(-56.0, abs=1.0)
    assert judged.outcome is Outcome.ENQUIRY


def test_a_vessel_that_loses_a_little_between_its_gauges_opens_a_watch_of_its_own() -> None:
    site = SmallSite()
    for run in range(1, 21):
        site.run()
        site.empty_b()
        site.held["B"] = (500.0, 70.0)
        site.gauge(f"OV{run:04d}", "opening stock", "B", "filled", "after")
        if run >= 6:
            site.held["B"] = (496.0, 70.0)
    (one,) = searched(site.log()).watched.watches
    assert one.family == "gauging of B"
    assert one.each
    assert one.share == pytest.approx(2.8, abs=0.8)
    assert one.earliest.doing.record <= "SR0007"
