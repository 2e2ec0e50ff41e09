"""Bottles and closures of each bottling: their lots, and how many went, broken ones too."""

import numpy as np

from tests.simulator.month import Month

from .used import Lot, uses_of

COLUMNS = {"bottlings": ["legal_name", "bottle_lot", "bottles_used", "closure_lot", "closures_used"]}


def write(year: Month, rng: np.random.Generator) -> None:
    """A lot of bottles and one of closures for each quarter, and what each bottling took of them."""
    for row in year.rows["bottlings"]:
        quarter = f"{row['at'][2:4]}{(int(row['at'][5:7]) + 2) // 3}"
        bottle = Lot("bottle", f"bottle of {row['bottle_centilitres']} cL", f"BT{quarter}")
        closure = Lot("closure", "cork with a wooden top", f"KC{quarter}")
        row |= {
            "legal_name": "gin" if row["product"] == "gin" else None,
            "bottle_lot": bottle.code,
            "bottles_used": row["bottles"] + int(rng.integers(0, 7)),
            "closure_lot": closure.code,
            "closures_used": row["bottles"] + int(rng.integers(0, 4)),
        }
        uses_of(year).note(bottle, row["at"], row["bottles_used"])
        uses_of(year).note(closure, row["at"], row["closures_used"])
