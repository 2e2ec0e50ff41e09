"""When a cut is away from its plan; figures worked by hand, the limit of the tests 2 % vol."""

from __future__ import annotations

from dataclasses import replace

import pytest
from made_up import at, run_of, typed_at

from batches.running.before import Usual
from batches.running.off_plan import AWAY_FROM_PLAN, off_plan
from distillery.rules.models import UsualFigure

ON = at(0).date()


@pytest.fixture
def limit(monkeypatch):
    rows = {AWAY_FROM_PLAN: UsualFigure(expected_millionths=2_000_000)}
    monkeypatch.setattr("batches.running.off_plan.usual_figure", lambda name, on: rows.get(name))
    return rows


def cut(run, made: str, usual: Usual | None = None):
    run = replace(run, typed=run.typed | {"cut_off_percent": made})
    found = off_plan(run, [run.running.event("spirit_off")], usual or Usual(), ON)
    return found[0] if found else None


@pytest.mark.parametrize(
    ("made", "away"), [("62.0", False), ("60.0", False), ("64.0", False), ("59.9", True), ("64.1", True)]
)
def test_by_the_plan_on_the_sheet(limit, made, away):
    assert (cut(run_of(typed={"plan_off_percent": "62.0"}), made) is not None) is away


def test_the_plan_of_the_last_run_that_had_one_goes_before_what_was_usual(limit):
    def past(number: str, made: str, **more: str):
        typed = {"cut_off_percent": made, "spirit_off_at": typed_at(3), **more}
        return run_of(number=number, typed=typed, ended=5)

    runs = (past("SR0001", "61.0"), past("SR0002", "62.0"), past("SR0003", "63.0"))
    usual = cut(run_of(), "59.0", Usual(runs))
    assert usual is not None
    assert usual.sentence == "Spirit off: the cut was made at 59.0 % and is planned at 62.0 %."
    planned = (*runs[:2], past("SR0003", "63.0", plan_off_percent="58.0"))
    assert cut(run_of(), "59.0", Usual(planned)) is None


def test_nothing_is_away_from_no_plan_no_figure_and_no_limit(limit):
    assert cut(run_of(), "40.0") is None
    planned = run_of(typed={"plan_off_percent": "62.0"})
    assert cut(planned, "") is None
    assert cut(planned, "much") is None
    limit.clear()
    assert cut(planned, "40.0") is None
