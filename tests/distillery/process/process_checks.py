"""The published and computed check values of the process (`tests/data/process_checks.csv`), by their numbers."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from pathlib import Path

TABLE = Path(__file__).resolve().parents[2] / "data" / "process_checks.csv"


@dataclass(frozen=True)
class Check:
    """One row: what goes in, what is to come out, how near, and who says so."""

    quantity: str
    inputs: dict[str, str]
    expected: str
    tolerance: str
    source: str

    def given(self, name: str) -> float:
        return float(self.inputs[name])

    def met_by(self, value: float) -> bool:
        if self.tolerance == "exact":
            return float(self.expected) == value
        return abs(value - float(self.expected)) <= float(self.tolerance)


@cache
def _rows() -> dict[str, Check]:
    with TABLE.open(encoding="utf-8", newline="") as file:
        return {
            row["id"]: Check(
                row["quantity"],
                {
                    name.strip(): value.strip()
                    for name, found, value in (part.partition("=") for part in row["inputs"].split(";"))
                    if found
                },
                row["expected"],
                row["tolerance"],
                row["source"],
            )
            for row in csv.DictReader(file)
        }


def check(number: str) -> Check:
    """The row of a number."""
    return _rows()[number]


def numbers() -> list[str]:
    """The numbers of all rows, in their order."""
    return list(_rows())


def inputs(number: str) -> dict[str, float]:
    """What a row gives, as numbers by name."""
    return {name: float(value) for name, value in check(number).inputs.items()}


def expected(number: str) -> float:
    """What a row says it comes to."""
    return float(check(number).expected)


def tolerance(number: str) -> float:
    """Within how much of it a sum is right."""
    said = check(number).tolerance.split()[0]
    return 0.0 if said == "exact" else float(said)
