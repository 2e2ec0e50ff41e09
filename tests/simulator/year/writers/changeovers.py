"""Changeovers of the third still, between a run of one product and the next of another."""

from datetime import datetime, timedelta
from itertools import pairwise

import numpy as np

from tests.simulator.month import Month

COLUMNS = {
    "changeovers": [
        *("changeover", "at", "still", "from_product", "to_product", "residue_litres", "residue_percent"),
        *("cleaned_with", "cleaned", "charcoal", "baskets", "checked_clear", "checked_by"),
    ]
}
STILL = "TS"
NOTE = "%Y-%m-%dT%H:%M"


def write(year: Month, rng: np.random.Generator) -> None:
    """An hour or so before the other product is charged, once the still has stood empty."""
    runs = {row["run"]: row for row in year.rows["third_still_runs"]}
    for row in runs.values():
        row["third_still"] = STILL
    in_order = sorted(runs.values(), key=lambda row: str(row["charged_at"]))
    for before, after in pairwise(in_order):
        if before["kind"] == after["kind"]:
            continue
        ended = datetime.strptime(before["ended_at"], NOTE)
        charged = datetime.strptime(after["charged_at"], NOTE)
        at = max(ended + (charged - ended) / 2, charged - timedelta(hours=1.2))
        record, _ = year.number("CO")
        year.rows["changeovers"].append(
            {
                "changeover": record,
                "at": at.strftime(NOTE),
                "still": STILL,
                "from_product": before["kind"],
                "to_product": after["kind"],
                "residue_litres": int(rng.integers(20, 60)),
                "residue_percent": round(float(rng.uniform(0.02, 0.08)), 2),
                "cleaned_with": "hot water",
                "cleaned": "pot, baskets and condenser",
                "charcoal": "taken out" if before["kind"] == "vodka" else "none in",
                "baskets": "emptied and cleaned" if before["kind"] == "gin" else "none in",
                "checked_clear": "clear",
                "checked_by": "M. Sandry",
            }
        )
