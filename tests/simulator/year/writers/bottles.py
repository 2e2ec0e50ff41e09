"""Bottles and closures of each bottling: their lots, how many went, broken ones too, and the bottles checked."""

from datetime import datetime, timedelta
from typing import Any

import numpy as np

from tests.simulator.month import Month, Row

from .used import Lot, uses_of

COLUMNS = {
    "bottlings": [
        *("legal_name", "bottle_lot", "bottles_used", "closure_lot", "closures_used"),
        *("bottles_a_case", "lot_on_bottles", "lot_on_cases"),
        *("checked_at", "filling_head", "fill_millilitres", "checked_percent", "part_of_run"),
    ]
}
NAMES = {"gin": "gin", "whisky": "whisky"}
CHECKS, MINUTES, HEADS = 6, 20, 6
# Spread of what single bottles hold, mL, and of strengths read along the line, % vol (common practice, no source).
OF_FILLS, OF_STRENGTHS = 0.7, 0.03


def write(year: Month, rng: np.random.Generator) -> None:
    """A lot of bottles and one of closures for each quarter, and what each bottling took of them."""
    written: list[Row] = []
    for row in year.rows["bottlings"]:
        quarter = f"{row['at'][2:4]}{(int(row['at'][5:7]) + 2) // 3}"
        bottle = Lot("bottle", f"bottle of {row['bottle_centilitres']} cL", f"BT{quarter}")
        closure = Lot("closure", "cork with a wooden top", f"KC{quarter}")
        row |= {
            "legal_name": NAMES.get(row["product"]),
            "bottle_lot": bottle.code,
            "bottles_used": row["bottles"] + int(rng.integers(0, 7)),
            "closure_lot": closure.code,
            "closures_used": row["bottles"] + int(rng.integers(0, 4)),
            "bottles_a_case": year.plant.habits.bottles_per_case,
            "lot_on_bottles": "yes",
            "lot_on_cases": "yes",
        }
        uses_of(year).note(bottle, row["at"], row["bottles_used"])
        uses_of(year).note(closure, row["at"], row["closures_used"])
        # What stands once on a sheet stands on each of its rows.
        written += [{**row, **check} for check in _checks(row, rng)]
    year.rows["bottlings"] = written


def _checks(row: Row, rng: np.random.Generator) -> list[dict[str, Any]]:
    """Bottles taken off the line every twenty minutes; their mean is the one that was written for the whole."""
    off = rng.normal(0.0, OF_FILLS, CHECKS)
    at = datetime.strptime(row["at"], "%Y-%m-%dT%H:%M")
    parts = {0: "start", CHECKS // 2: "middle", CHECKS - 1: "end"}
    return [
        {
            "checked_at": (at + timedelta(minutes=5 + MINUTES * place)).strftime("%Y-%m-%dT%H:%M"),
            "filling_head": 1 + place % HEADS,
            "fill_millilitres": round(float(row["mean_fill_millilitres"] + off[place] - off.mean()), 1),
            "checked_percent": round(float(row["mean_strength_percent"] + rng.normal(0.0, OF_STRENGTHS)), 2)
            if place in parts
            else None,
            "part_of_run": parts.get(place),
        }
        for place in range(CHECKS)
    ]
