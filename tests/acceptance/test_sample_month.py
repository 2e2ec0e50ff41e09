"""The sample month from its tables to its account, against what a perfect ledger would know.

The truth beside the tables comes from the simulation that wrote them (tests/data/sample-month/truth.json);
the month is invented. Nothing here knows a figure of the month except through that file.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command

from ledger.models import Gauge, Leg, Movement
from ledger.proof.proving import prove
from ledger.statements.month import month_account

PERIOD = "2027-03"
TRUTH = json.loads((Path(__file__).parents[1] / "data" / "sample-month" / "truth.json").read_text(encoding="utf-8"))


def said(capsys: pytest.CaptureFixture[str], *command: str) -> Any:
    capsys.readouterr()
    call_command(*command)
    return json.loads(capsys.readouterr().out)


def test_every_line_foots_to_the_microlitre(loaded_month: Path) -> None:
    account = month_account(PERIOD)
    assert account.foots
    assert [line.stage for line in account.stages if not line.foots] == []
    assert account.site.closing_ul > 0
    assert sum(line.in_ul - line.out_ul for line in account.stages) == account.site.in_ul - account.site.out_ul


def test_the_ledger_proves(loaded_month: Path) -> None:
    proof = prove()
    assert proof.broken == []
    assert proof.movements == Movement.objects.count() > 500
    assert proof.legs == Leg.objects.count()


def test_the_account_as_data_says_what_the_commands_promise(
    loaded_month: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    data = said(capsys, "month_account", PERIOD, "--json")
    assert data["foots"] is True
    assert data["period"] == PERIOD
    for line in data["stages"]:
        made = line["opening_lpa"] + line["in_lpa"] - line["out_lpa"] - line["known_losses_lpa"]
        assert made - line["difference_lpa"] == pytest.approx(line["closing_lpa"], abs=5e-7)
    assert {"vessel", "lpa", "litres", "percent"} <= data["vessels"][0].keys()
    assert {removal["kind"] for removal in data["removals"]} == {"home use", "export"}


@pytest.mark.parametrize("vessel", sorted(TRUTH["closing"]))
def test_each_vessel_at_the_stock_take_is_within_four_standard_uncertainties_of_the_truth(
    loaded_month: Path, vessel: str
) -> None:
    holding = next(one for one in month_account(PERIOD).vessels if one.account.code == f"vessel:{vessel}")
    gauge = holding.last_gauge
    assert gauge is not None
    assert gauge.movement.record_kind == "stock_take"
    apart_ul = gauge.pure_ul - TRUTH["closing"][vessel]["lpa"] * 1e6
    assert abs(apart_ul) <= 4 * gauge.uncertainty_ul, f"{apart_ul / 1e6:.2f} LPA of u {gauge.uncertainty_ul / 1e6:.2f}"
    assert holding.pure_ul == gauge.pure_ul


def test_pot_ale_and_spent_lees_are_the_measured_ones(loaded_month: Path) -> None:
    losses = dict(month_account(PERIOD).losses)
    # Pot ale is read to 0.01 % vol on some 6,400 litres: twenty readings, rounding of 0.003 % vol each at k = 4.
    assert losses["pot ale"] / 1e6 == pytest.approx(TRUTH["losses"]["pot ale"], abs=4 * 20**0.5 * 6400 * 0.02 / 100)


def test_the_two_slips_stand_first_and_little_else_is_raised(
    loaded_month: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    found = said(capsys, "findings", "--period", PERIOD, "--json")
    assert [one["record"] for one in found[:2]] == ["SR0007", "WR0012"]
    assert len({one["record"] for one in found}) <= 6
    assert {"kind", "operation", "at", "difference_lpa", "uncertainty_lpa", "threshold_lpa", "state", "likely"} <= (
        found[0].keys()
    )


def test_the_reading_behind_each_slip_is_named(loaded_month: Path, capsys: pytest.CaptureFixture[str]) -> None:
    found = {one["record"]: one for one in said(capsys, "findings", "--period", PERIOD, "--json")}
    for planted in TRUTH["planted"]:
        if "record" in planted:
            likely = found[planted["record"]]["likely"][0]
            assert likely["field"] == planted["field"]
            assert likely["written"] == str(planted["written"])
            scale = 5 if planted["field"].endswith("_mm") else 0.3
            assert float(likely["would_be"]) == pytest.approx(planted["was"], abs=scale)


def test_the_leaking_cask_is_raised(loaded_month: Path, capsys: pytest.CaptureFixture[str]) -> None:
    leaking = next(planted["cask_leak"] for planted in TRUTH["planted"] if "cask_leak" in planted)
    found = said(capsys, "findings", "--period", PERIOD, "--json")
    regauged = [one["record"] for one in found if one["operation"] == "regauge"]
    assert len(regauged) == 1
    movement = Movement.objects.get(record_number=regauged[0])
    assert Gauge.objects.get(movement=movement).account.code == f"vessel:{leaking}"


def test_loading_it_again_adds_nothing(loaded_month: Path) -> None:
    before = Movement.objects.count(), Leg.objects.count(), Movement.objects.order_by("-pk")[0].seal
    call_command("load_month", str(loaded_month), verbosity=0)
    assert (Movement.objects.count(), Leg.objects.count(), Movement.objects.order_by("-pk")[0].seal) == before
