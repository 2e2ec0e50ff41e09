"""Whole months beside their kind: the sample month, and a simulated one with four slips of the pen.

Both are invented; what was planted in them stands in their truth, which comes from simulations that know nothing of
the program (fixtures/sample-month, tests/simulator).
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from batches.loading.load_folder import load_folder
from distillery.people.models import Person
from ledger.comparing.model.kinds.deviations import LEVEL, deviations_in
from ledger.comparing.model.kinds.equations import kind_equations
from ledger.comparing.observations.from_ledger import log_of
from tests.ledger.comparing.far_off import outliers
from tests.simulator import Fault, simulate

MARCH, MAY = "2027-03", "2027-05"


def test_in_the_sample_month_only_the_leaking_cask_stands_out(loaded_month: Path) -> None:
    # Planted there: the leak of cask 2022/0007, which RG0007 regauges; a hydrometer misread by three at WR0012.
    assert [(one.record, one.name) for one in outliers(MARCH)] == [("RG0007", "loss a year")]
    everything = sorted(deviations_in(MARCH), key=lambda one: -abs(one.z))
    assert len(everything) > 400
    second = everything[1]
    assert (second.record, second.name) == ("WR0012", "average strength of the low wines")
    # By three and a half too strong, which twelve runs before it are too few to call wrong by themselves.
    assert 3.0 < second.z < LEVEL
    assert abs(everything[2].z) < 3.0


def test_it_asks_four_times_for_a_month(loaded_month: Path) -> None:
    with CaptureQueriesContext(connection) as asked:
        deviations_in(None)
    assert len(asked) == 4


def test_the_rows_of_a_month_hang_on_readings_of_their_records(loaded_month: Path) -> None:
    log = log_of(MARCH)
    found = [row for row in kind_equations(log) if row.key.startswith("figure:")]
    assert len({row.key for row in found}) == len(found) > 300
    read = {one.key for event in log.events for one in event.measured.readings}
    assert all(row.direct and {key for key, _ in row.direct} <= read for row in found)
    # Of a cask, whose columns repeat, a reading is named with the cask.
    casks = [row for row in found if row.doing.record_kind == "cask_fill"]
    assert {any(key.rsplit(":", 1)[-1] in log.casks for key, _ in row.direct) for row in casks} == {True}


@pytest.mark.parametrize(
    ("record", "shown"),
    [("regauge/RG0007", ("Loss a year", "Look")), ("cask_fill/CF0002", ("Filled of its size, cask", "like it"))],
)
def test_a_record_shows_its_figures_beside_their_kind(
    loaded_month: Path, officer: Person, browser_of: Callable[..., Client], record: str, shown: tuple[str, ...]
) -> None:
    page = browser_of(officer).get(f"/records/{record}/").content.decode()
    start = page.index('id="kinds-caption"')
    table = page[start : page.index("</table>", start)]
    assert all(text in table for text in shown)
    # Forty casks are three lines: each figure once, for the cask that is furthest off.
    assert table.count("<tr>") <= 6


@pytest.mark.django_db
def test_slips_of_the_pen_stand_out_and_nothing_else_does(tmp_path: Path) -> None:
    planted = simulate(
        383,
        tmp_path,
        size="small",
        faults=[
            Fault("weight", record="CF0001", field="gross_kg", add=20.0),
            Fault("weight", field="tare_kg", add=-20.0),
            Fault("gravity", field="original_gravity", add=0.010),
            Fault("bottles", field="bottles", add=-240),
        ],
    )["planted"]
    load_folder(tmp_path)
    found = {(one.record, one.vessel, one.name) for one in outliers(MAY)}
    heavy, light, gravity, bottles = planted
    assert found == {
        (heavy["record"], heavy["cask"], "filled of its size"),
        (light["record"], light["cask"], "filled of its size"),
        (gravity["record"], "", "original gravity beside the wort"),
        (gravity["record"], "", "share of the predicted yield"),
        (bottles["record"], "", "bottles beside the drop of the vat"),
    }
