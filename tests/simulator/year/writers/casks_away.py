"""Casks moved on: a few re-racked into others, and a few that leave under bond, weighed as they go."""

from datetime import datetime, timedelta
from typing import Any

import numpy as np

from tests.simulator.casks import Cask, MaturingCask
from tests.simulator.liquid import Liquid
from tests.simulator.month import Month, Row
from tests.simulator.year.calendar import START, hour_of

from .casks_emptied import WEIGHED, held_by_now, old_casks, weighing
from .papers import PAPERS, REPORTED, reported, under_bond

COLUMNS = {
    "re_rackings": ["re_racking", "at", "cask", "what_happens", *WEIGHED, "fill_number", "warehouse"],
    "cask_removals": [
        *("removal", "at", "kind", *PAPERS, "cask", *WEIGHED, *REPORTED, "litres_arrived", "percent_arrived"),
    ],
}
RERACKED = (datetime(2026, 6, 16, 10), datetime(2026, 11, 10, 10))
SENT = (datetime(2026, 8, 18, 9), datetime(2027, 1, 19, 9))
AT_ONCE = 2
WOOD = (0.010, 0.001)


class CasksAway:
    """Hogsheads into barrels, and butts that go to another warehouse."""

    def __init__(self, year: Month, rng: np.random.Generator) -> None:
        self.year, self.rng = year, rng
        maturing = year.plant.maturing
        # The youngest of the old ones; the oldest are disgorged.
        self.to_rerack = iter(old_casks(maturing, ("barrel", "hogshead"))[::-1])
        self.to_send = iter(old_casks(maturing, ("butt",))[::-1])
        # The last of the empty ones, which the filling store does not come to in a year.
        self.fresh = iter([one for one in year.plant.casks[::-1] if one.kind == "hogshead" and one.fill_number == 1])

    def plan(self) -> None:
        for day in RERACKED:
            self.year.at(hour_of(day) + float(self.rng.uniform(0.0, 2.0)), self.rerack)
        for day in SENT:
            self.year.at(hour_of(day) + float(self.rng.uniform(0.0, 2.0)), self.send)

    def rerack(self) -> None:
        """Two casks into two that were bought for it, each as full as the two together make them."""
        year, tools = self.year, self.year.tools
        record, n = year.number("RK")
        head: Row = {"re_racking": record, "at": year.stamp(year.now)}
        emptied: list[MaturingCask] = [next(self.to_rerack) for _ in range(AT_ONCE)]
        held = [held_by_now(year, cask, self.rng) for cask in emptied]
        for cask, now in zip(emptied, held, strict=True):
            line = {"cask": cask.number, "what_happens": "emptied"}
            year.rows["re_rackings"].append(
                {**head, **line, **weighing(tools, now, cask.tare_kg, cask.written_tare_kg)}
            )
        together = sum(held, Liquid())
        year.come("casks re-racked", together)
        lost = together.share(float(self.rng.normal(*WOOD)))
        year.leave("re-racking", lost)
        filled: list[Cask] = [next(self.fresh) for _ in range(AT_ONCE)]
        for fresh in filled:
            part = (together - lost).share(1.0 / AT_ONCE)
            year.leave("casks", part)
            weighed = weighing(tools, part, fresh.tare_kg)
            line = {"cask": fresh.number, "what_happens": "filled", "fill_number": str(fresh.fill_number)}
            year.rows["re_rackings"].append({**head, **line, **weighed, "warehouse": fresh.warehouse})
        year.done("re-racking", n, record, lpa=together.alcohol, loss=lost.alcohol)

    def send(self) -> None:
        """A cask under bond, its report after a few days."""
        year, cask = self.year, next(self.to_send, None)
        if cask is None:
            # A site that owns no more butts as old as that.
            return
        record, n = year.number("CR")
        now = held_by_now(year, cask, self.rng)
        at = START + timedelta(hours=year.now)
        row: dict[str, Any] = {"removal": record, "at": year.stamp(year.now), "kind": "under bond"}
        row |= under_bond(at, 700 + n) | {"cask": cask.number}
        row |= weighing(year.tools, now, cask.tare_kg, cask.written_tare_kg)
        row |= reported(at + timedelta(days=3, hours=2), f"CR-{n}")
        row |= {"litres_arrived": round(now.litres(), 1), "percent_arrived": round(now.percent, 2)}
        year.rows["cask_removals"].append(row)
        year.done("cask removal", n, record, lpa=now.alcohol)
