"""Rows of the published and worked figures of the process: one by its id, its inputs as numbers."""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path

ROWS = Path(__file__).resolve().parents[2] / "data" / "process_checks.csv"


@cache
def _rows() -> dict[str, dict[str, str]]:
    with ROWS.open(encoding="utf-8", newline="") as file:
        return {row["id"]: row for row in csv.DictReader(file)}


def row(key: str) -> dict[str, str]:
    """The row as it stands; its `source` says where the figure is from."""
    return _rows()[key]


def inputs(key: str) -> dict[str, float]:
    """What the row gives, by name."""
    parts = (part.partition("=") for part in row(key)["inputs"].split(";"))
    return {name.strip(): float(value) for name, _, value in parts}


def expected(key: str) -> float:
    """What the row says it comes to."""
    return float(row(key)["expected"])


def tolerance(key: str) -> float:
    """Within how much of it a sum is right."""
    said = row(key)["tolerance"].split()[0]
    return 0.0 if said == "exact" else float(said)
