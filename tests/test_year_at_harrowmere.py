"""The year of the demonstration: its tables are what the simulator makes of its seed, and all of it can be so."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.simulator.judging import rows_of
from tests.simulator.month import Month
from tests.simulator.year import SEED, months, work_year
from tests.simulator.year.calendar import is_silent, last_mornings, mashing_hours, put_off
from tests.simulator.year.tables import write_year
from tests.simulator.year.writers.used import uses_of

YEAR = Path(__file__).resolve().parent.parent / "fixtures" / "harrowmere-year"
MOST_BYTES = 2_000_000


@pytest.fixture(scope="module")
def year() -> Month:
    return work_year()[0]


def test_the_tables_are_those_of_the_simulator(year: Month, tmp_path: Path) -> None:
    """The same bytes again, and nothing beside them."""
    write_year(year, tmp_path)
    made = {path.relative_to(tmp_path): path.read_bytes() for path in tmp_path.rglob("*.csv")}
    kept = {path.relative_to(YEAR): path.read_bytes() for path in YEAR.rglob("*.csv")}
    assert set(made) == set(kept)
    assert [str(name) for name in made if made[name] != kept[name]] == []
    assert sum(map(len, kept.values())) < MOST_BYTES


def test_alcohol_and_mass_are_conserved(year: Month) -> None:
    alcohol, mass, all_alcohol, all_mass = year.gap()
    assert abs(alcohol) < 1e-6 * all_alcohol
    assert abs(mass) < 1e-6 * all_mass


def test_every_step_is_in_it() -> None:
    """Each table of the year has rows in some month; of malt to bond in all months but the silent weeks of July."""
    names = {path.stem for path in YEAR.rglob("log/*.csv")}
    filled = {name for name in names for month in months() if rows_of(YEAR / month / "log", name)}
    assert names == filled
    for name in ("mashes", "wash_runs", "spirit_runs", "cleanings", "stock_take", "distillation_periods"):
        assert all(rows_of(YEAR / month / "log", name) for month in months()), name


def test_no_run_goes_over_the_end_of_a_month(year: Month) -> None:
    for table in ("wash_runs", "spirit_runs", "third_still_runs"):
        assert {row["charged_at"][:7] == row["ended_at"][:7] for row in year.rows[table]} == {True}, table


def test_nothing_is_used_that_did_not_come_first(year: Month) -> None:
    came = {row["lot"]: row for row in year.rows["material_receipts"]}
    for lot, used in uses_of(year).of.items():
        delivery = came[lot.code]
        assert delivery["received_at"] < min(used)[0], lot.code
        assert (delivery["kilograms"] or delivery["pieces"]) >= sum(amount for _, amount in used), lot.code


def test_casks_lie_long_enough_to_be_whisky(year: Month) -> None:
    """Three years in wood (Scotch Whisky Regulations 2009, SI 2009/2890, reg 3(1)(d), from memory)."""
    old = [cask for cask in year.plant.maturing if cask.filled_at[:4] <= "2023"]
    assert len(old) > 50
    assert len(year.plant.maturing) + len({row["cask"] for row in year.rows["cask_fills"]}) > 500


def test_another_seed_is_another_year_and_a_clean_one_has_no_trouble() -> None:
    worked, truth = work_year(SEED + 1)
    assert len(truth["planted"]) == 2
    assert work_year(SEED + 1, clean=True)[1]["planted"] == []
    assert worked.rows["mashes"] != work_year()[0].rows["mashes"]


def test_the_silent_weeks_and_the_ends_of_months() -> None:
    assert not any(is_silent(hour) for hour in mashing_hours())
    midnight = last_mornings()[0] + 18.0
    assert put_off(midnight - 5.0, 7.0) == midnight + 2.0
    assert put_off(midnight - 9.0, 7.0) is None
    assert put_off(midnight, 7.0) is None
