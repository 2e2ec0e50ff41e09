"""Cleanings: each washback as it has been emptied, both pot stills once a month while they are empty."""

from datetime import datetime, timedelta
from typing import Any

import numpy as np

from tests.simulator.month import Month

COLUMNS = {
    "cleanings": [
        *("cleaning", "vessel", "begun_at", "agent", "strength_percent", "agent_celsius", "ended_at", "rinse_litres"),
        *("rinse_ph", "rinse_found", "rinse_checked_by", "rinse_to"),
    ]
}
CHECKED_BY = ("B. Catterwell", "T. Orrell", "M. Sandry")
NOTE = "%Y-%m-%dT%H:%M"


def write(year: Month, rng: np.random.Generator) -> None:
    """In order of time, so that their numbers are."""
    due = [(_after(row["charged_at"], 0.4), row["washback"]) for row in year.rows["wash_runs"]]
    due += _of_stills(year, "wash_runs") + _of_stills(year, "spirit_runs")
    for begun, vessel in sorted(due):
        record, _ = year.number("CL")
        ended = _after(begun, float(rng.uniform(0.8, 1.4)))
        row: dict[str, Any] = {
            "cleaning": record,
            "vessel": vessel,
            "begun_at": begun,
            "agent": "caustic" if not vessel.startswith("SS") else "hot water",
            "strength_percent": round(float(rng.normal(2.0, 0.12)), 1) if not vessel.startswith("SS") else None,
            "agent_celsius": round(float(rng.normal(74.0, 1.5)), 1),
            "ended_at": ended,
            "rinse_litres": int(rng.integers(28, 40)) * 10,
            "rinse_ph": round(float(rng.normal(7.2, 0.12)), 1),
            "rinse_found": "clean",
            "rinse_checked_by": CHECKED_BY[int(rng.integers(len(CHECKED_BY)))],
            "rinse_to": "effluent tank",
        }
        year.rows["cleanings"].append(row)


def _of_stills(year: Month, table: str) -> list[tuple[str, str]]:
    """The first time in a month that a still stands empty for four hours."""
    found: dict[tuple[str, str], str] = {}
    rows = [row for row in year.rows[table] if "ended_at" in row]
    for row, after in zip(rows, [*rows[1:], None], strict=True):
        begun = _after(row["ended_at"], 1.0)
        if after is not None and _after(begun, 3.0) > after["charged_at"]:
            continue
        if after is None:
            continue
        found.setdefault((row["still"], begun[:7]), begun)
    return [(begun, still) for (still, _), begun in found.items()]


def _after(at: str, hours: float) -> str:
    return (datetime.strptime(at, NOTE) + timedelta(hours=hours)).strftime(NOTE)
