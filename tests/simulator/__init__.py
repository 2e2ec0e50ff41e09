"""Random months of pot-still distilleries, written as folders in the format that `load_month` reads.

A month is worked through vessel by vessel with alcohol and mass conserved, read through instruments that err,
and written down by hands that slip. `truth.json` beside the tables says what truly happened. Nothing here knows
the program: the formula, its inversion and the accounts are its own, so that one can judge the other. Needs numpy.
"""

from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import Any, Literal

import numpy as np

from .faults import Fault, draw_faults, leaks_that_showed, plant_slips, settle_leaks
from .habits import SIZES, draw_habits
from .instruments import Instruments
from .month import Month, close_month, open_month, take_stock
from .plant import build_plant
from .spirit_store import SpiritStore
from .stillhouse import StillHouse
from .third_still import ThirdStill
from .writing import Truth, truth_of, write_folder

__all__ = ["SIZES", "Fault", "Truth", "simulate", "work_month"]

Faults = Sequence[Fault] | Literal["random"] | None


def work_month(
    seed: int,
    *,
    size: str = "ordinary",
    faults: Faults = None,
    clean: bool = False,
    month: str = "2027-05",
    months: int = 1,
    maturing: int | None = None,
) -> tuple[Month, Truth]:
    """Work one month or more through and keep it in memory; the arguments are those of `simulate`."""
    if size not in SIZES:
        raise ValueError(f"a distillery is {', '.join(SIZES)}, not {size!r}")
    if months < 1:
        raise ValueError(f"a distillery is worked through for one month or more, not {months}")
    start = datetime.fromisoformat(f"{month}-01T06:00")
    *stock_takes, hours = (_last_morning(start, count) for count in range(1, months + 1))
    # Streams apart: the same seed gives the same month whatever is planted in it.
    plant_rng, work_rng, read_rng, fault_rng, slip_rng = (np.random.default_rng([seed, i]) for i in range(5))
    habits = draw_habits(plant_rng, size, start, hours, months)
    if clean:
        chosen: list[Fault] = []
    elif faults is None or faults == "random":
        chosen = draw_faults(fault_rng, habits)
    else:
        chosen = list(faults)
    plant = build_plant(plant_rng, habits, start.year, maturing)
    plant.habits, cask_share = settle_leaks(fault_rng, habits, chosen)
    worked = Month(plant, start, hours, work_rng, Instruments(read_rng))
    worked.leaking_cask = ("", cask_share) if cask_share else None
    open_month(worked)
    store = SpiritStore(worked)
    for house in (StillHouse(worked, store.send_spirit), store, ThirdStill(worked)):
        house.plan()
    for morning in stock_takes:
        worked.at(morning, lambda: take_stock(worked, worked.at_rest(), list_empty=seed % 2 == 0))
    worked.run()
    close_month(worked, list_empty=seed % 2 == 0)
    planted = leaks_that_showed(worked) + plant_slips(slip_rng, worked, chosen)
    simulation: dict[str, Any] = {"seed": seed, "size": size, "month": month}
    if months > 1:
        simulation["months"] = months
    return worked, truth_of(worked, planted, simulation)


def _last_morning(start: datetime, months: int) -> float:
    """Hours from the first morning to that of the last day of so many months."""
    count = start.month - 1 + months
    after = datetime(start.year + count // 12, count % 12 + 1, 1, 6)
    return float(((after - start).days - 1) * 24)


def simulate(
    seed: int,
    folder: Path,
    *,
    size: str = "ordinary",
    faults: Faults = None,
    clean: bool = False,
    month: str = "2027-05",
    months: int = 1,
    maturing: int | None = None,
) -> Truth:
    """Write one month, or so many from that one on, to `folder` and return its truth.

    The seed settles everything: plant, habits, what happens, what is read. `size` is small, ordinary or large;
    `faults` is a list of `Fault`, or None or 'random' for one to five drawn at random; `clean` plants none at all.
    `maturing` says how many casks lie in the warehouses at the start, where it is not drawn. Of several months stock is
    taken at the end of each, of the vessels that nothing is using that morning.
    ValueError for a size that is none of the three, for fewer months than one, and for a fault of a named record or
    column that this month cannot have.
    """
    worked, truth = work_month(
        seed, size=size, faults=faults, clean=clean, month=month, months=months, maturing=maturing
    )
    write_folder(folder, worked, truth)
    return truth
