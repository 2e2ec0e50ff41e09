"""Reads the check tables of tests/data/alcoholometry: a ``#`` head naming the source, then CSV."""

import csv
from pathlib import Path

DIRECTORY = Path(__file__).parents[2] / "data" / "alcoholometry"


def rows(name: str) -> list[dict[str, str]]:
    """The table's rows; its head must name a source and what disagreement is allowed."""
    lines = (DIRECTORY / f"{name}.csv").read_text(encoding="utf-8").splitlines()
    head = [line for line in lines if line.startswith("#")]
    assert any(line.startswith("# Source: ") for line in head), name
    assert any(line.startswith("# Allowed: ") for line in head), name
    found = list(csv.DictReader(line for line in lines if not line.startswith("#")))
    assert found, name
    return found


def figures(name: str) -> list[list[float]]:
    """The table's rows as numbers."""
    return [[float(cell) for cell in row.values()] for row in rows(name)]


def allowed(name: str) -> float:
    """The disagreement the table's head allows."""
    lines = (DIRECTORY / f"{name}.csv").read_text(encoding="utf-8").splitlines()
    return float(next(line for line in lines if line.startswith("# Allowed: ")).removeprefix("# Allowed: "))
