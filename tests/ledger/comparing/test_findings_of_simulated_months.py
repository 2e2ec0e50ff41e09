"""Other plants, other months, other slips: simulated independently of the program and compared the short way.

The simulator's truth says what was planted. Slow: each month is made and gauged anew.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from ledger.management.commands.findings import as_data
from tests.simulator import Fault, simulate
from tests.simulator.answers import Answer, Marked, mark
from tests.simulator.judging import rows_of
from tests.simulator.shortcut import short_month

MONTH = "2027-05"
pytestmark = [pytest.mark.django_db, pytest.mark.slow]


def marked(folder: Path, seed: int, size: str, faults: list[Fault]) -> Marked:
    truth = simulate(seed, folder, size=size, faults=faults, clean=not faults, month=MONTH)
    found = [as_data(one) for one in short_month(folder, MONTH).findings]
    regauges = {row["cask"]: row["regauge"] for row in rows_of(folder / "log", "regauges")}
    return mark(truth["planted"], found, regauges)


@pytest.mark.parametrize(
    ("seed", "size", "kind"),
    [
        (501, "ordinary", "dip"),
        (502, "small", "hydrometer"),
        (503, "ordinary", "celsius"),
        (504, "ordinary", "gravity"),
        (505, "small", "weight"),
        (506, "ordinary", "missing transfer"),
    ],
)
def test_a_planted_slip_stands_in_the_first_line_of_a_finding(tmp_path: Path, seed: int, size: str, kind: str) -> None:
    result = marked(tmp_path, seed, size, [Fault(kind)])
    (answer,) = result.answers
    assert answer.in_first_line, answer
    assert result.false == []


def test_a_lasting_loss_of_one_per_cent_of_the_spirit_charge_is_signalled_within_three_runs(tmp_path: Path) -> None:
    result = marked(tmp_path, 507, "ordinary", [Fault("spirit leak", share=0.01, from_n=9)])
    (answer,) = result.answers
    assert answer.runs_to_signal is not None
    assert answer.runs_to_signal <= 3
    assert answer.range_holds_onset


def test_a_lasting_loss_of_the_wash_charge_is_signalled_within_sixteen_runs(tmp_path: Path) -> None:
    result = marked(tmp_path, 508, "ordinary", [Fault("wash leak", share=0.009, from_n=6)])
    (answer,) = result.answers
    assert answer.runs_to_signal is not None
    assert answer.runs_to_signal <= 16


def test_a_clean_month_raises_nothing(tmp_path: Path) -> None:
    assert marked(tmp_path, 509, "ordinary", []) == Marked([], [], 0)


def test_marking_counts_only_what_was_planted() -> None:
    planted = [{"field": "x_dip_mm", "record": "SR0001", "was": 900, "written": 800}]
    cause = {"record": "SR0001", "field": "x_dip_mm", "cause": "dip written 100 mm short"}
    other = {"record": "SR0009", "field": "y_dip_mm", "cause": "dip written 50 mm short"}
    found = [
        {
            "kind": "enquiry",
            "record": "SR0001",
            "operation": "spirit run",
            "difference_lpa": 50.0,
            "explains": [],
            "likely": [cause],
            "lines": [{"causes": [cause]}],
        },
        {
            "kind": "enquiry",
            "record": "SR0009",
            "operation": "spirit run",
            "difference_lpa": 20.0,
            "explains": [],
            "likely": [other],
            "lines": [{"causes": [other]}],
        },
    ]
    result = mark(planted, found, {})
    assert result.answers == [
        Answer("dip", "SR0001 x_dip_mm 900 -> 800", True, True, True, True),
    ]
    assert len(result.false) == 1
