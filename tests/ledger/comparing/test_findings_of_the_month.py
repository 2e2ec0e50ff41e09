"""What the sample month's figures leave, against what was planted in it (tests/data/sample-month/truth.json)."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext

from distillery.plant.lookup import Plant
from ledger.comparing.findings.detectability import detectability_of
from ledger.comparing.findings.judging import Outcome, judge_all
from ledger.comparing.month import compare_month, findings

PERIOD = "2027-03"
TRUTH = json.loads((Path(__file__).parents[2] / "data" / "sample-month" / "truth.json").read_text(encoding="utf-8"))
SLIPS = [one for one in TRUTH["planted"] if "field" in one]
LEAK = next(one for one in TRUTH["planted"] if "leak" in one)
RAISED = ("enquiry", "continuity", "likeness", "watch", "gauge again")


def said(capsys: pytest.CaptureFixture[str]) -> list[dict[str, Any]]:
    capsys.readouterr()
    call_command("findings", "--period", PERIOD, "--json")
    answer: list[dict[str, Any]] = json.loads(capsys.readouterr().out)
    return answer


@pytest.mark.parametrize("slip", SLIPS, ids=lambda slip: slip["record"])
def test_each_slip_is_named_first_with_what_it_should_have_been(
    loaded_month: Path, capsys: pytest.CaptureFixture[str], slip: dict[str, Any]
) -> None:
    one = next(one for one in said(capsys) if one["record"] == slip["record"])
    first = one["likely"][0]
    assert one["kind"] == "enquiry"
    assert (first["record"], first["field"]) == (slip["record"], slip["field"])
    assert (first["written"], first["would_be"]) == (str(slip["written"]), str(slip["was"]))
    assert len(one["lines"][0]["causes"]) == 1


def test_the_dip_comes_before_all_else_and_little_is_left_when_it_is_right(
    loaded_month: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    first = said(capsys)[0]
    assert first["record"] == "SR0007"
    assert "short" in first["likely"][0]["cause"]
    assert abs(first["likely"][0]["leaves_lpa"]) < first["threshold_lpa"]
    # Missing at the run and found again at the next gauge of the receiver: one finding.
    assert first["found_again_at"] == "TR0005"


def test_the_loss_on_the_spirit_still_is_a_watch_by_the_third_run(
    loaded_month: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (one,) = [one for one in said(capsys) if one["kind"] == "watch"]
    assert one["operation"] == "spirit run"
    assert one["record"] <= f"SR{LEAK['from_n'] + 2:04d}"
    assert one["since"][0] <= f"SR{LEAK['from_n']:04d}" <= one["since"][1]
    assert one["share"] == pytest.approx(LEAK["share"], rel=1 / 3)


def test_the_leaking_cask_is_an_enquiry_and_nothing_else_is_raised(
    loaded_month: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    found = said(capsys)
    assert "RG0007" in [one["record"] for one in found if one["kind"] == "enquiry"]
    assert sorted(one["record"] for one in found if one["kind"] != "watch") == ["RG0007", "SR0007", "WR0012"]
    assert {one["kind"] for one in found} <= set(RAISED)


def test_the_text_says_the_same(loaded_month: Path, capsys: pytest.CaptureFixture[str]) -> None:
    capsys.readouterr()
    call_command("findings", "--period", PERIOD)
    text = capsys.readouterr().out
    assert "Spirit receiver after: dip 827 -> 927" in text
    assert "Receiver after: hydrometer reading 27.8 -> 24.8" in text


def test_a_month_is_found_in_with_a_number_of_queries_that_does_not_grow(loaded_month: Path) -> None:
    with CaptureQueriesContext(connection) as asked:
        findings(PERIOD)
    vessels = len({event.measured.vessel for event in compare_month(PERIOD, Plant()).search.model.log.events})
    assert len(asked) < 15 + vessels


def test_a_record_finds_what_it_explains_elsewhere(loaded_month: Path) -> None:
    assert [one.record for one in findings(PERIOD) if "TR0005" in (one.record, one.found_again)] == ["SR0007"]


@pytest.mark.parametrize("record", ["SR0003", "WR0005", "TR0008", "TS0004", "CF0002", "RE0001", "BO0001", "FE0003"])
def test_a_record_with_nothing_wrong_is_accepted(loaded_month: Path, record: str) -> None:
    month = compare_month(PERIOD, Plant())
    assert not [one for one in month.findings if record in (one.record, one.found_again)]
    own = [key for key, line in month.search.model.equations.items() if line.doing.record == record]
    assert {one.outcome for one in judge_all(month.search, own).values()} <= {Outcome.ACCEPTED}


def test_what_could_not_have_been_seen_is_said_with_what_would_buy_most(loaded_month: Path) -> None:
    month = compare_month(PERIOD, Plant())
    said_of_run = detectability_of(month, "SR0003")
    assert said_of_run is not None
    assert 10.0 < said_of_run.detectable < 60.0
    bought = [one.detectable for one in said_of_run.better]
    assert bought == sorted(bought)
    assert all(one < said_of_run.detectable for one in bought[:2])
    assert "could not be told from measurement" in said_of_run.sentence
    assert detectability_of(month, "ST0001") is None


def test_everything_posted_says_what_the_month_says(loaded_month: Path) -> None:
    month = {(one.kind, one.record) for one in findings(PERIOD)}
    assert {(one.kind, one.record) for one in findings()} == month


def test_charts_are_kept_of_every_type_of_operation_and_vessel(loaded_month: Path) -> None:
    month = compare_month(PERIOD, Plant())
    charts = {one.family: one for one in month.watched.charts}
    assert {"wash run", "spirit run", "transfer", "gauging of LWR", "gauging of SR"} <= charts.keys()
    spirit = charts["spirit run"]
    assert [line.doing.record for line in spirit.lines] == [f"SR{number:04d}" for number in range(1, 21)]
    assert len(spirit.slow.upper) == len(spirit.quick.lower) == len(spirit.average.values) == 20
    # The drift stands in the charts as well; the two slips do not drive those of the wash still.
    assert spirit.slow.signals
    assert charts["wash run"].slow.signals == ()
