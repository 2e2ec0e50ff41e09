"""What a year has written down besides the simulator's own steps: one small module for each step.

A step that moves or gauges liquid is planned before the year is worked through (`during_work`), since it has to find
the vessels as they truly are then. One that only writes down what followed from it comes after (`after_work`): it reads
the rows that are there and adds its own. `COLUMNS` are the columns of its tables, beside or instead of the simulator's.
A new step is a module and its name in these three.
"""

from collections.abc import Callable, Sequence
from typing import Protocol

import numpy as np

from tests.simulator.columns import LOG
from tests.simulator.month import Month
from tests.simulator.year.troubles import Troubles

from . import (
    bottles,
    casks,
    casks_away,
    changeovers,
    cleanings,
    counts,
    distillation_periods,
    malt,
    neutral_spirit,
    new_spirit,
    removals,
    returns,
    silos,
    third_still_charges,
    warehouses,
    whisky,
    yeast,
)
from .deliveries import write_deliveries

__all__ = ["COLUMNS", "after_work", "during_work"]

Write = Callable[[Month], None]


class Planned(Protocol):
    """A step that is planned before the year is worked through."""

    def plan(self) -> None:
        """Puts its work into the year."""


# Each draws from a stream of its own.
OF_CASKS: tuple[Callable[[Month, np.random.Generator], Planned], ...] = (whisky.Whisky, casks_away.CasksAway)


def during_work(year: Month, rng: np.random.Generator, troubles: Troubles) -> Sequence[Planned]:
    """The steps that find the vessels as they are."""
    return (
        neutral_spirit.Deliveries(year, rng, troubles),
        distillation_periods.Periods(year),
        removals.Removals(year),
        new_spirit.NewSpirit(year),
        *(step(year, own) for step, own in zip(OF_CASKS, rng.spawn(len(OF_CASKS)), strict=True)),
    )


def after_work(seed: int) -> Sequence[Write]:
    """The steps that are written down from what is there, in their order: what is used before how it came.

    Each draws from a stream of its own, so that a step that is added changes no other.
    """
    drawn = (malt, yeast, third_still_charges, bottles)
    later = (counts, cleanings, changeovers, returns, silos, warehouses)
    return (
        *(_drawing(module.write, seed, place) for place, module in enumerate(drawn)),
        casks.write,
        write_deliveries,
        *(_drawing(module.write, seed, place) for place, module in enumerate(later, start=len(drawn))),
    )


def _drawing(write: Callable[[Month, np.random.Generator], None], seed: int, place: int) -> Write:
    rng = np.random.default_rng([seed, 100 + place])
    return lambda year: write(year, rng)


def _columns() -> dict[str, list[str]]:
    columns = {table: list(names) for table, names in LOG.items()}
    for module in (
        *(malt, yeast, third_still_charges, bottles, casks, counts),
        *(cleanings, changeovers, neutral_spirit, distillation_periods, removals),
        *(whisky, casks_away, returns, silos, warehouses),
    ):
        for table, names in module.COLUMNS.items():
            there = columns.setdefault(table, [])
            there += [name for name in names if name not in there]
    # Readings stand last, as in every folder of the simulator but for the stock take.
    return columns


COLUMNS = _columns()
"""The tables of the year's log and the columns of each."""
