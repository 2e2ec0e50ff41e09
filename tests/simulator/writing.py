"""The folder a month is written to: the tables of the plant and of the log, and what a perfect ledger would know."""

import csv
import json
from collections.abc import Iterable
from pathlib import Path
from typing import Any, TypedDict

import numpy as np

from .columns import LOG, PLANT
from .liquid import Liquid
from .month import Month, Row
from .plant import Plant


class Truth(TypedDict):
    """What truth.json holds; LPA unless said otherwise."""

    operations: list[dict[str, Any]]
    planted: list[dict[str, Any]]
    losses: dict[str, float]
    opening: dict[str, float]
    casks: dict[str, dict[str, float]]
    closing: dict[str, dict[str, float]]
    simulation: dict[str, Any]


def _plain(value: Any) -> Any:
    if isinstance(value, np.generic):
        return value.item()
    return value


def _table(path: Path, columns: list[str], rows: Iterable[Row]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, columns)
        writer.writeheader()
        writer.writerows({name: _plain(value) for name, value in row.items()} for row in rows)


def plant_tables(plant: Plant) -> dict[str, list[Row]]:
    vessels, calibration = [], []
    for vessel in plant.vessels.values():
        vessels.append(
            {
                "vessel": vessel.code,
                "name": vessel.name,
                "kind": vessel.kind,
                "stage": vessel.stage,
                "capacity_litres": vessel.capacity,
            }
        )
        table = zip(vessel.calibration.dips, vessel.calibration.litres, strict=True)
        calibration += [{"vessel": vessel.code, "dip_mm": dip, "litres": litres} for dip, litres in table]
    return {
        "vessels": vessels,
        "calibration": calibration,
        "empty_casks": [
            {
                "number": cask.number,
                "kind": cask.kind,
                "fill": cask.fill_number,
                "litres": cask.nominal_litres,
                "warehouse": cask.warehouse,
            }
            for cask in plant.casks
        ],
        "maturing_casks": [
            {
                "number": cask.number,
                "kind": cask.kind,
                "fill": cask.fill_number,
                "nominal_litres": cask.nominal_litres,
                "warehouse": cask.warehouse,
                "filled_at": cask.filled_at,
                "tare_kg": cask.written_tare_kg,
                "gross_kg": cask.written_gross_kg,
                "percent": cask.written_percent,
            }
            for cask in plant.maturing
        ],
        "instruments": plant.instruments,
        "recipes": [
            {"recipe": plant.recipe, "botanical": botanical, "grams_per_lpa": grams}
            for botanical, grams in plant.botanicals
        ],
    }


def log_tables(month: Month, columns: Iterable[str] = LOG) -> dict[str, list[Row]]:
    tables = {name: month.rows[name] for name in columns}
    tables["readings"] = [row for _, rows in sorted(month.readings, key=lambda entry: entry[0]) for row in rows]
    return tables


def _contents(liquid: Liquid) -> dict[str, float]:
    return {
        "lpa": round(liquid.alcohol, 4),
        "percent": round(liquid.percent, 4),
        "litres20": round(liquid.litres(), 2),
    }


def _rounded(row: Row) -> Row:
    return {name: round(float(value), 4) if isinstance(value, float) else value for name, value in row.items()}


def truth_of(month: Month, planted: list[Row], simulation: dict[str, Any]) -> Truth:
    vessels = month.plant.vessels.values()
    return {
        "operations": [_rounded(row) for row in month.operations],
        "planted": planted,
        "losses": month.losses(),
        "opening": {code: round(liquid.alcohol, 4) for code, liquid in month.opening.items()},
        "casks": {
            number: {"lpa": liquid.alcohol, "percent": liquid.percent} for number, liquid in month.filled.items()
        },
        "closing": {vessel.code: _contents(vessel.contents) for vessel in vessels if not vessel.contents.is_empty},
        "simulation": simulation,
    }


def write_folder(folder: Path, month: Month, truth: Truth) -> None:
    """Write plant/, log/ and truth.json; tables in which nothing happened hold their header alone."""
    for name, columns, tables in (
        ("plant", PLANT, plant_tables(month.plant)),
        ("log", LOG, log_tables(month)),
    ):
        (folder / name).mkdir(parents=True, exist_ok=True)
        for table, header in columns.items():
            _table(folder / name / f"{table}.csv", header, tables[table])
    text = json.dumps(truth, indent=1, default=_plain)
    (folder / "truth.json").write_text(text + "\n", encoding="utf-8")
