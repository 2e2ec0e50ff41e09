"""Silos that ran empty: after the last mash of a lot, before the next is put in."""

from datetime import datetime, timedelta

import numpy as np

from tests.simulator.month import Month

COLUMNS = {"emptied_silos": ["emptying", "silo", "emptied_at", "left_kg", "reason"]}
NOTE = "%Y-%m-%dT%H:%M"
# After which lots of malt their silo was seen empty.
AFTER_LOTS = (8, 17, 27)


def write(year: Month, rng: np.random.Generator) -> None:
    """Nothing is left in it but what is swept together."""
    lots = year.rows["intake"]
    for place in AFTER_LOTS:
        if place >= len(lots):
            continue
        row = lots[place]
        mashed = [one["ended_at"] for one in year.rows["mashes"] if one["malt_lot"] == row["lot"]]
        record, _ = year.number("SE")
        at = datetime.strptime(max(mashed), NOTE) + timedelta(minutes=int(rng.integers(20, 60)))
        year.rows["emptied_silos"].append(
            {"emptying": record, "silo": row["silo"], "emptied_at": at.strftime(NOTE), "left_kg": 0}
        )
