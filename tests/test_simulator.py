"""The simulator of random months, judged before anything is judged by it.

Its formula is held against published points, its folders against the columns and figures of the Harrowmere month
(invented), its months against what must be conserved. The ranges of usual losses are common practice, no source.
"""

import csv
import json
import re
import subprocess
import sys
from functools import lru_cache
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from tests.simulator import Fault, simulate, work_month
from tests.simulator import ethanol_water as ew
from tests.simulator.columns import LOG, PLANT
from tests.simulator.faults import KINDS, SLIPS
from tests.simulator.judging import check_formats, examples, gauges_by_vessel, read_back, rows_of
from tests.simulator.liquid import Liquid
from tests.simulator.month import Month

HERE = Path(__file__).parent / "simulator"
SIZES_AND_SEEDS = [("small", 1), ("small", 4), ("ordinary", 2), ("ordinary", 7), ("ordinary", 12), ("large", 5)]


@lru_cache
def worked(seed: int, size: str) -> tuple[Month, Any]:
    return work_month(seed, size=size, clean=True)


def published(name: str) -> list[list[float]]:
    with (HERE / "published" / f"{name}.csv").open(encoding="utf-8") as lines:
        rows = list(csv.reader(line for line in lines if not line.startswith("#")))[1:]
    return [[float(cell) for cell in row] for row in rows]


def celsius(fahrenheit: float) -> float:
    return (fahrenheit - 32.0) / 1.8


# --- the formula


def test_densities_are_those_of_the_oiml_tables() -> None:
    """OIML R 22:1975, tables (second-hand), to 0.02 kg/m3."""
    for percent_mass, at, expected in published("oiml_r22_points"):
        assert ew.density(percent_mass / 100.0, at) == pytest.approx(expected, abs=0.02)


def test_densities_by_strength_are_those_published() -> None:
    """Sheet 'Dilution of ethanol' (second-hand), to 0.01 kg/m3."""
    for percent, expected in published("density_20C"):
        assert ew.density(ew.mass_fraction_of(percent), 20.0) == pytest.approx(expected, abs=0.01)


def test_hydrometer_shows_what_the_us_table_says() -> None:
    """27 CFR 30.61 Table 1 and 30.23, read backwards: from the true proof to the reading, to 0.06 proof."""
    for reading, fahrenheit, true in published("us_hydrometer_60F"):
        shown = 2.0 * ew.reading_shown(true / 2.0, celsius(fahrenheit), celsius(60.0))
        assert shown == pytest.approx(reading, abs=0.06)


def test_hydrometer_shows_what_the_old_table_says() -> None:
    """Encyclopedia of Practical Receipts and Processes, table 55: 0.25 % vol in true strength."""
    for reading, fahrenheit, true in published("historic_hydrometer_60F"):
        assert ew.strength_read(reading, celsius(fahrenheit), celsius(60.0)) == pytest.approx(true, abs=0.25)
        assert ew.reading_shown(true, celsius(fahrenheit), celsius(60.0)) == pytest.approx(reading, abs=0.3)


@pytest.mark.parametrize("at", [2.0, 12.5, 20.0, 31.0])
@pytest.mark.parametrize("percent", [8.3, 23.0, 40.0, 63.5, 94.5])
def test_reading_and_strength_undo_each_other(percent: float, at: float) -> None:
    assert ew.strength_read(ew.reading_shown(percent, at), at) == pytest.approx(percent, abs=1e-9)
    assert ew.percent_of(ew.mass_fraction_of(percent)) == pytest.approx(percent, abs=1e-9)
    if at == 20.0:
        assert ew.reading_shown(percent, at) == pytest.approx(percent, abs=1e-9)


def test_the_impossible_is_refused() -> None:
    with pytest.raises(ValueError, match="°C"):
        ew.density(0.5, 41.0)
    with pytest.raises(ValueError, match="mass fraction"):
        ew.density(1.1, 20.0)
    with pytest.raises(ValueError, match="no mixture"):
        ew.mass_fraction_at(700.0, 20.0)


def test_mixing_keeps_alcohol_and_mass_and_contracts() -> None:
    mixed = Liquid.of_litres(500.0, 63.5) + Liquid(0.0, 300.0)
    assert mixed.alcohol == pytest.approx(317.5)
    assert mixed.litres() < 500.0 + 300.0 / 0.9982 - 3.0


# --- the folder


def test_the_formats_expected_are_those_of_harrowmere() -> None:
    assert sum(check_formats(table, rows) for table, rows in examples().items()) > 400


def test_columns_are_those_of_harrowmere() -> None:
    theirs = {table: list(rows[0]) for table, rows in examples().items()}
    ours = {f"plant/{name}": header for name, header in PLANT.items()}
    ours |= {f"log/{name}": header for name, header in LOG.items()}
    assert ours == theirs


@pytest.mark.parametrize(("size", "seed"), SIZES_AND_SEEDS)
def test_figures_are_written_as_at_harrowmere(tmp_path: Path, size: str, seed: int) -> None:
    simulate(seed, tmp_path, size=size)
    checked = 0
    for part, tables in (("plant", PLANT), ("log", LOG)):
        for name, header in tables.items():
            text = (tmp_path / part / f"{name}.csv").read_bytes()
            assert text.startswith(",".join(header).encode() + b"\r\n")
            checked += check_formats(f"{part}/{name}", rows_of(tmp_path / part, name))
    assert checked > 1500
    for row in rows_of(tmp_path / "plant", "vessels"):
        assert row["kind"] in ("washback", "receiver", "vat")
    truth = json.loads((tmp_path / "truth.json").read_text(encoding="utf-8"))
    assert {"operations", "planted", "losses", "opening", "casks", "closing"} <= set(truth)


@pytest.mark.parametrize(("size", "seed"), SIZES_AND_SEEDS)
def test_an_empty_vessel_has_no_strength_and_only_it(size: str, seed: int) -> None:
    month, _ = worked(seed, size)
    for rows in month.rows.values():
        for row in rows:
            for column, reading in row.items():
                if column.endswith("_hydrometer_percent"):
                    dip = row[column.replace("_hydrometer_percent", "_dip_mm")]
                    assert (reading is None) == (dip == 0)
                    assert row[column.replace("_hydrometer_percent", "_celsius")] is not None


def test_the_rows_of_a_fill_stand_together_with_the_vat_gauged_once() -> None:
    month, _ = worked(2, "ordinary")
    fills = [row["fill"] for row in month.rows["cask_fills"]]
    assert fills == sorted(fills)
    for fill in set(fills):
        rows = [row for row in month.rows["cask_fills"] if row["fill"] == fill]
        assert len({tuple(row[name] for name in LOG["cask_fills"][-6:]) for row in rows}) == 1
        assert len({row["cask"] for row in rows}) == len(rows)


# --- what happened


@pytest.mark.parametrize(("size", "seed"), SIZES_AND_SEEDS)
def test_alcohol_and_mass_are_conserved(size: str, seed: int) -> None:
    month, truth = worked(seed, size)
    alcohol, mass, all_alcohol, all_mass = month.gap()
    assert abs(alcohol) < 1e-6 * all_alcohol
    assert abs(mass) < 1e-6 * all_mass
    came = sum(truth["opening"].values())
    came += sum(entry["lpa"] for entry in truth["operations"] if entry["operation"] == "fermentation")
    went = sum(truth["losses"].values()) + sum(entry["lpa"] for entry in truth["closing"].values())
    went += sum(cask["lpa"] for cask in truth["casks"].values())
    bottlings = [entry for entry in truth["operations"] if entry["operation"] == "bottling"]
    went += sum(entry["bottled"] + entry["overfill"] for entry in bottlings)
    assert came == pytest.approx(went, rel=1e-6)


@pytest.mark.parametrize(("size", "seed"), SIZES_AND_SEEDS)
def test_times_run_forward(size: str, seed: int) -> None:
    month, _ = worked(seed, size)
    first, last = month.stamp(0.0), month.stamp(month.hours)
    columns = {
        "mashes": ("started_at", "ended_at"),
        "fermentations": ("pitched_at", "ended_at"),
        "wash_runs": ("charged_at", "ended_at"),
        "spirit_runs": ("charged_at", "spirit_on_at", "spirit_off_at", "ended_at"),
        "third_still_runs": ("charged_at", "ended_at"),
        "intake": ("received_at",),
    }
    for name in ("transfers", "reductions", "cask_fills", "regauges", "bottlings", "removals"):
        columns[name] = ("at",)
    for name, order in columns.items():
        rows = month.rows[name]
        for row in rows:
            times = [row[column] for column in order if row[column] is not None]
            assert first <= times[0] <= times[-1] <= last
            assert times == sorted(times)
        starts = [row[order[0]] for row in rows]
        assert starts == sorted(starts), name
    for _, readings in month.readings:
        times = [row["at"] for row in readings]
        assert times == sorted(times)
    assert month.rows["stock_take"][0]["at"] == last == "2027-05-31T06:00"


@pytest.mark.parametrize(("size", "seed"), SIZES_AND_SEEDS)
def test_nothing_moves_between_one_gauge_and_the_next(size: str, seed: int) -> None:
    """After one record and before the next the same liquid is gauged twice: within 5 standard errors of both."""
    month, _ = worked(seed, size)
    pairs = 0
    for code, gauges in gauges_by_vessel(month).items():
        table = month.vessel(code).calibration
        for (_, was, first, one), (_, then, second, other) in pairwise(gauges):
            if was != 1:
                continue
            assert then == 0, f"two records at once in {code}: {first} {second}"
            (before, before_error), (after, after_error) = read_back(table, first, one), read_back(table, second, other)
            assert abs(after - before) <= 5.0 * (before_error**2 + after_error**2) ** 0.5
            pairs += 1
    assert pairs > 40


@pytest.mark.parametrize(("size", "seed"), SIZES_AND_SEEDS)
def test_stock_take_agrees_with_the_truth(size: str, seed: int) -> None:
    month, truth = worked(seed, size)
    listed = {row["vessel"] for row in month.rows["stock_take"]}
    washbacks = set(month.plant.washbacks)
    assert set(truth["closing"]) - washbacks <= listed
    for row in month.rows["stock_take"]:
        found, error = read_back(month.vessel(row["vessel"]).calibration, row, "gauge")
        true = truth["closing"].get(row["vessel"], {"lpa": 0.0})["lpa"]
        assert abs(found - true) <= 4.0 * error


def test_usual_losses_are_of_the_usual_size() -> None:
    """Means over each clean month; the ranges are common practice, no source."""
    ranges = {
        "wash_run": (0.008, 0.016, ("charged", ("low_wines",))),
        "spirit_run": (0.004, 0.011, ("charged", ("cut", "feints"))),
        "third_run": (0.008, 0.017, ("charged", ("heart", "heads_tails"))),
        "transfer": (0.0004, 0.0017, ("moved", ())),
    }
    for size, seed in SIZES_AND_SEEDS:
        _, truth = worked(seed, size)
        for operation, (low, high, (into, out_of)) in ranges.items():
            entries = [entry for entry in truth["operations"] if entry["operation"] == operation]
            if not entries:
                continue
            went_in = sum(entry[into] for entry in entries)
            lost = went_in - sum(entry[name] for entry in entries for name in out_of)
            if operation == "transfer":
                lost = sum(entry["loss"] for entry in entries)
            assert low <= lost / went_in <= high, (size, seed, operation)


def test_plants_differ() -> None:
    months = [work_month(seed, size="ordinary", clean=True)[0] for seed in range(12)]
    assert len({tuple(month.plant.vessels) for month in months}) == 12
    assert {len(month.plant.vats) for month in months} == {1, 2}
    assert {month.plant.habits.charges_per_washback for month in months} == {1, 2}
    assert len({len(month.plant.washbacks) for month in months}) > 2
    for name in ("third_still_runs", "bottlings", "removals", "regauges"):
        assert {bool(month.rows[name]) for month in months} == {True, False}
    for month in months:
        assert len(month.rows["wash_runs"]) > 15
        assert month.rows["cask_fills"]
        assert month.rows["transfers"]


# --- what is wrong


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_of_fault_can_be_planted(kind: str) -> None:
    _, truth = work_month(2, faults=[Fault(kind)])
    (entry,) = truth["planted"]
    operations = truth["operations"]
    if kind == "cask leak":
        others = [e["lost"] for e in operations if e["operation"] == "regauge" and e["cask"] != entry["cask_leak"]]
        assert 0.05 < entry["share"] < 0.21
        assert others
    elif kind.endswith("leak"):
        runs = [e for e in operations if e["operation"] == f"{entry['leak']}_run"]
        for run in runs:
            expected = entry["share"] * run["charged"] if run["n"] >= entry["from_n"] else 0.0
            assert run["leak"] == pytest.approx(expected, abs=1e-3)
        assert any(run["leak"] for run in runs)
        assert not all(run["leak"] for run in runs)
    elif kind == "missing transfer":
        assert entry["why"] == "transfer not written down"
        assert entry["was"] > 0
    else:
        assert {"operation", "n", "field", "add", "why", "record", "was", "written"} <= set(entry)
        assert entry["written"] == pytest.approx(entry["was"] + entry["add"], abs=1e-6)
        assert abs(entry["lpa"]) >= max(1.0, 4.0 * entry["sigma_lpa"] - 0.01)


def cells_of(month: Month) -> dict[tuple[str, int, str], Any]:
    return {
        (table, i, column): cell
        for table in LOG
        for i, row in enumerate(month.rows[table])
        for column, cell in row.items()
    }


@pytest.mark.parametrize("seed", range(3, 7))
def test_slips_change_what_is_planted_and_nothing_else(seed: int) -> None:
    clean, _ = work_month(seed, clean=True)
    kinds = [kind for kind in SLIPS if kind != "bottles"]
    spoilt, truth = work_month(seed, faults=[Fault(kind) for kind in kinds])
    before, after = cells_of(clean), cells_of(spoilt)
    changed = {place: (before[place], after[place]) for place in before if before[place] != after[place]}
    planted = {(entry["field"], entry["was"], entry["written"]) for entry in truth["planted"]}
    assert len(planted) == len(kinds)
    assert {(column, was, written) for (_, _, column), (was, written) in changed.items()} == planted
    for entry in truth["planted"]:
        rows = [row for table in LOG for row in spoilt.rows[table] if entry["record"] in list(row.values())[:1]]
        assert any(row.get(entry["field"]) == entry["written"] for row in rows)


def test_a_transfer_not_written_leaves_no_gap_in_the_numbers() -> None:
    clean, _ = work_month(5, clean=True)
    spoilt, truth = work_month(5, faults=[Fault("missing transfer", record="TR0002"), Fault("dip")])
    numbers = [row["transfer"] for row in spoilt.rows["transfers"]]
    assert numbers == [f"TR{i:04d}" for i in range(1, len(clean.rows["transfers"]))]
    entry = next(e for e in truth["planted"] if e["why"] == "transfer not written down")
    assert entry["at"] == clean.rows["transfers"][1]["at"]
    transfers = [e for e in truth["operations"] if e["operation"] == "transfer"]
    assert [e["record"] for e in transfers] == [numbers[0], None, *numbers[1:]]
    assert sum(e["moved"] for e in transfers) > sum(e["moved"] for e in transfers if e["record"])


def test_a_fault_asked_for_exactly_is_planted_exactly() -> None:
    fault = Fault("dip", record="SR0003", field="spirit_after_dip_mm", add=-100)
    month, truth = work_month(8, faults=[fault])
    (entry,) = truth["planted"]
    assert entry["record"] == "SR0003"
    assert entry["written"] == entry["was"] - 100 == month.rows["spirit_runs"][2]["spirit_after_dip_mm"]
    assert entry["why"] == "dip written 100 mm short"


def test_faults_that_cannot_be_are_refused() -> None:
    with pytest.raises(ValueError, match="no such fault"):
        Fault("smell")
    with pytest.raises(ValueError, match="cannot be planted"):
        work_month(8, faults=[Fault("dip", record="SR0001", field="spirit_after_dip_mm", add=90000)])
    with pytest.raises(ValueError, match="small, ordinary, large"):
        work_month(8, size="vast")


def test_random_faults_vary_and_clean_months_have_none() -> None:
    found = [work_month(seed, size="small")[1]["planted"] for seed in range(8)]
    assert len({len(planted) for planted in found}) > 2
    assert all(not worked(seed, size)[1]["planted"] for size, seed in SIZES_AND_SEEDS)


# --- from outside


def test_the_same_seed_writes_the_same_folder(tmp_path: Path) -> None:
    for name in ("one", "two"):
        simulate(9, tmp_path / name, size="small", month="2026-02")
    files = sorted(path.relative_to(tmp_path / "one") for path in (tmp_path / "one").rglob("*.*"))
    assert len(files) == len(PLANT) + len(LOG) + 1
    for path in files:
        assert (tmp_path / "one" / path).read_bytes() == (tmp_path / "two" / path).read_bytes()
    assert rows_of(tmp_path / "one" / "log", "stock_take")[0]["at"] == "2026-02-28T06:00"


def test_command_line_writes_a_clean_month(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "tests.simulator", "--seed", "7", "--folder", str(tmp_path), "--clean"]
    done = subprocess.run(command, cwd=HERE.parent.parent, capture_output=True, text=True, timeout=60, check=True)
    assert "casks filled" in done.stdout
    assert "planted" not in done.stdout
    assert json.loads((tmp_path / "truth.json").read_text(encoding="utf-8"))["planted"] == []


# They put simulated months before the program; nothing that simulates one imports them.
ASKS_THE_PROGRAM = {"trial", "year_trial", "year_traces", "shortcut"}


def test_it_knows_nothing_of_the_program() -> None:
    sources = [source for source in HERE.glob("*.py") if source.stem not in ASKS_THE_PROGRAM]
    assert len(sources) > 10
    for source in sources:
        names = re.findall(r"^\s*(?:from|import)\s+([\w.]+)", source.read_text(encoding="utf-8"), re.M)
        assert not {name.split(".")[0] for name in names} & {"distillery", "ledger", "batches", "django"}
        assert not {name.split(".")[-1] for name in names} & ASKS_THE_PROGRAM or source.stem == "__main__"
