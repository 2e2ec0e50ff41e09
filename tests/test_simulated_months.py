"""Several months of the simulator in one run: read by the program as one month is, and one month what it always was."""

from __future__ import annotations

import hashlib
import json
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from tests.benchmarks import large_site
from tests.simulator import simulate, work_month
from tests.simulator.judging import gauges_by_vessel, read_back, rows_of

# Of the folders as they were before a run could have more months than one.
ONE_MONTH = {
    ("small", 6): "5ee5c876e1799d62b7447aaf27d402bb3445e691399b76699beec632c29df07c",
    ("ordinary", 7): "1f43537a0a7e2af24c11a19b2c0eeeea4ebff7473449eaf0745d817d45bbcac6",
}


@pytest.mark.parametrize(("size", "seed"), ONE_MONTH)
def test_one_month_is_what_it_was(size: str, seed: int, tmp_path: Path) -> None:
    simulate(seed, tmp_path, size=size)
    digest = hashlib.sha256()
    for file in sorted(tmp_path.rglob("*.*")):
        digest.update(file.relative_to(tmp_path).as_posix().encode() + file.read_bytes())
    assert digest.hexdigest() == ONE_MONTH[size, seed]


def test_work_goes_on_through_all_months() -> None:
    """Both stills in each month, as often; alcohol and mass conserved; the casks asked for, none weighed twice."""
    worked, truth = work_month(26, size="small", clean=True, month="2026-11", months=4, maturing=40)
    assert truth["simulation"]["months"] == 4
    months = ["2026-11", "2026-12", "2027-01", "2027-02"]
    for table, at in (("wash_runs", "charged_at"), ("spirit_runs", "charged_at"), ("cask_fills", "at")):
        rows = worked.rows[table]
        assert [sum(row[at].startswith(month) for row in rows) > 0 for month in months] == [True] * 4, table
        assert len({next(iter(row.values())) for row in rows}) > 8
    alcohol, mass, all_alcohol, all_mass = worked.gap()
    assert abs(alcohol) < 1e-6 * all_alcohol
    assert abs(mass) < 1e-6 * all_mass
    assert {row["at"] for row in worked.rows["stock_take"]} == {
        "2026-11-30T06:00",
        "2026-12-31T06:00",
        "2027-01-31T06:00",
        "2027-02-28T06:00",
    }
    assert len(worked.plant.maturing) == 40
    weighed = [row["cask"] for row in worked.rows["regauges"]]
    assert len(weighed) == len(set(weighed)) > worked.plant.habits.regauges


def test_nothing_moves_between_one_gauge_and_the_next_in_many_months() -> None:
    """The stock takes between the months fall between two records, never into one."""
    worked, _ = work_month(26, size="small", clean=True, months=3)
    for code, gauges in gauges_by_vessel(worked).items():
        table = worked.vessel(code).calibration
        for (_, was, first, one), (_, _then, second, other) in pairwise(gauges):
            if was == 1:
                (before, before_error), (after, after_error) = (
                    read_back(table, first, one),
                    read_back(table, second, other),
                )
                assert abs(after - before) <= 5.0 * (before_error**2 + after_error**2) ** 0.5


def test_fewer_months_than_one_are_refused() -> None:
    with pytest.raises(ValueError, match="one month or more, not 0"):
        work_month(1, months=0)


@pytest.mark.django_db
def test_the_program_reads_two_months_as_it_reads_one(tmp_path: Path) -> None:
    """Each row by its own sheet, and compared: a clean run has nothing to be answered."""
    from tests.simulator.shortcut import short_month

    simulate(9, tmp_path, size="small", clean=True, month="2027-04", months=2, maturing=12)
    compared = short_month(tmp_path, "2027-05")
    assert [one.sentence for one in compared.findings if one.kind == "enquiry"] == []


def test_each_month_has_what_was_known_at_its_end(tmp_path: Path) -> None:
    """A record that goes on stands in both folders, in the first without what was still to come."""
    from tests.benchmarks.monthly_folders import months_from, write_months

    worked, _ = work_month(4, size="small", clean=True, month="2026-12", months=2)
    months = months_from("2026-12", 2)
    assert months == ["2026-12", "2027-01"]
    write_months(worked, months, tmp_path)
    first, second = (rows_of(tmp_path / month / "log", "fermentations") for month in months)
    both = {row["fermentation"] for row in first} & {row["fermentation"] for row in second}
    assert both
    for row in first:
        going_on = row["fermentation"] in both
        assert bool(row["final_gravity"]) is not going_on
        assert row["original_gravity"]
    assert all(row["final_gravity"] for row in second if row["fermentation"] in both)
    assert {row["fermentation"] for row in (*first, *second)} == {
        row["fermentation"] for row in worked.rows["fermentations"]
    }
    assert not (tmp_path / months[1] / "plant").exists()


def test_a_time_in_summer_is_written_as_the_site_s_clock_showed_it(tmp_path: Path) -> None:
    from tests.benchmarks.monthly_folders import write_months

    worked, _ = work_month(4, size="small", clean=True, month="2026-06", months=1)
    write_months(worked, ["2026-06"], tmp_path)
    assert rows_of(tmp_path / "2026-06" / "log", "stock_take")[0]["at"] == "2026-06-30T07:00"


def test_a_large_site_is_not_made_twice(tmp_path: Path, capsys: Any) -> None:
    note = tmp_path / "made.json"
    made = {"months": 60, "casks": 20_000, "seed": large_site.SEED, "engine": large_site._engine()}
    note.write_text(json.dumps({**made, "seconds": 900}), encoding="utf-8")
    large_site.make(tmp_path, 60, 20_000)
    assert "holds it already: months 60, casks 20000" in capsys.readouterr().out
    with pytest.raises(SystemExit, match="holds another site"):
        large_site.make(tmp_path, 12, 20_000)
    assert [one.name for one in tmp_path.iterdir()] == ["made.json"]
