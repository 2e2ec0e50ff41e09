"""A year at Harrowmere: twelve months of one distillery, from the opening gauge in April to the stock take in March.

The seed settles everything, as it does of a month. The still house, the store and the third still are the simulator's
own; what a year has besides (seasons, weeks of silence, deliveries, cleanings, distillation periods) is said here, each
step by one small module of `writers`. Two things go wrong in it: the wash still loses a little more from autumn on, and
one delivery of neutral spirit is short of what its document says.
"""

from typing import Any

import numpy as np

from tests.simulator.month import Month, close_month, open_month, take_stock
from tests.simulator.writing import Truth, truth_of

from .calendar import FIRST, MONTHS, hour_of, last_mornings, months
from .house import build_house, draw_house
from .seasons import SeasonalInstruments
from .stills import SeasonalStillHouse, Store
from .third import SmallStill
from .troubles import Troubles, draw_troubles
from .writers import after_work, during_work

__all__ = ["FIRST", "MONTHS", "SEED", "months", "work_year"]

SEED = 2026


def work_year(seed: int = SEED, *, clean: bool = False) -> tuple[Month, Truth]:
    """Works the year through and keeps it in memory, with what truly happened; `clean` plants neither trouble."""
    plant_rng, work_rng, read_rng, trouble_rng, lorry_rng = (np.random.default_rng([seed, 90 + i]) for i in range(5))
    house = draw_house(plant_rng)
    troubles = Troubles() if clean else draw_troubles(trouble_rng, house)
    plant = build_house(plant_rng, troubles.at_the_stills(house))
    start, ends = hour_of.start, last_mornings()
    tools = SeasonalInstruments(read_rng)
    year = Month(plant, start, ends[-1], work_rng, tools)
    tools.clock = lambda: year.now
    open_month(year)
    store = Store(year)
    for part in (SeasonalStillHouse(year, store.send_spirit), store, SmallStill(year)):
        part.plan()
    for writer in during_work(year, lorry_rng, troubles):
        writer.plan()
    for morning in ends[:-1]:
        year.at(morning, lambda: take_stock(year, year.at_rest(), list_empty=True))
    year.run()
    close_month(year, list_empty=True)
    for write in after_work(seed):
        write(year)
    simulation: dict[str, Any] = {"seed": seed, "year": f"{FIRST} and eleven months more"}
    return year, truth_of(year, troubles.that_showed(year), simulation)
