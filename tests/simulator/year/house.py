"""Harrowmere as it is in its year: a small mash, two pot stills, a small third still, vats and a few hundred casks."""

from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np

from tests.simulator.casks import empty_casks, maturing_casks
from tests.simulator.habits import Habits, draw_habits
from tests.simulator.plant import Plant, _Builder

from .calendar import MONTHS, START, hour_of, is_silent, last_mornings, mashing_hours

NEUTRAL = "NS"
NEUTRAL_LITRES = 2400.0
CASKS = {"barrel": 0.6, "hogshead": 0.3, "butt": 0.1}
WAREHOUSES = ("1A", "1B", "2A", "2B")
MATURING = 240
WHISKY_VATS = (
    ("DV1", "Disgorging vat 1", 1500.0),
    ("DV2", "Disgorging vat 2", 1500.0),
    ("MV", "Marrying vat", 3400.0),
    ("WV", "Whisky bottling vat", 3400.0),
    ("NV", "New spirit bottling vat", 700.0),
)
# Which of the names that a plant may have are Harrowmere's.
_CODES = frozenset({"WB{}", "LWR", "FR", "SR", "SV{}", "GV", "VV", "HT", "BV"})


def draw_house(rng: np.random.Generator) -> Habits:
    """The ways of the house. What a seed moves is little: strengths, shares and weights of the same distillery."""
    drawn = draw_habits(rng, "ordinary", START, last_mornings()[-1], MONTHS)
    return replace(
        drawn,
        mash_kg=720.0,
        mashing_hours=mashing_hours(),
        fermenting_hours=float(rng.uniform(60.0, 72.0)),
        reading_hours=8.0,
        washbacks=6,
        charges_per_washback=1,
        stills=1,
        cuts_per_transfer=2,
        receiver_heel_litres=0.0,
        vats=2,
        vatting=True,
        fill_percent=63.5,
        products=("gin", "vodka"),
        third_hours=_third_hours(rng),
        third_charge=150.0,
        label_percent={"gin": 42.4, "vodka": 40.0, "whisky": 43.0, "new malt spirit": 50.0},
        bottle_centilitres=70,
        bottles_per_case=6,
        bottles_per_layer=60,
        regauges=10,
        removals=5,
        lees_written_percent=None,
    )


def _third_hours(rng: np.random.Generator) -> tuple[float, ...]:
    """Mornings on which the third still is charged: about every nine days."""
    hours, at = [], 24.0 * 5 + 2.5
    while at < last_mornings()[-1] - 72.0:
        weekday = (START + timedelta(hours=at)).weekday()
        if not is_silent(at) and weekday < 5:
            hours.append(at + float(rng.uniform(-0.4, 0.4)))
            at += 24.0 * int(rng.integers(7, 12))
        else:
            at += 24.0
    return tuple(hours)


class _House(_Builder):
    """Builds with Harrowmere's own names, and with a tank for neutral spirit beside the third still."""

    def pick(self, pool: tuple[tuple[str, str], ...]) -> tuple[str, str]:
        return next(name for name in pool if name[0] in _CODES)

    def third_house(self) -> None:
        super().third_house()
        habits, plant, stage = self.habits, self.plant, "rectified and compounded"
        if "gin" not in plant.bottling_vats:
            code = next(iter(plant.bottling_vats.values()), "")
            room = 1.3 * plant.vessels[plant.product_vats["gin"]].capacity
            plant.bottling_vats["gin"] = code or self.vessel(
                ("BV", "Bottling vat"), "vat", "vatted and reduced", room, self.vat_celsius
            )
        self.vessel((NEUTRAL, "Neutral spirit tank"), "vat", stage, NEUTRAL_LITRES, self.vat_celsius)
        self.holds(NEUTRAL, 900.0, 96.3)
        # Heads and tails are kept for a year, so the tank is made for that.
        self.vessel((plant.heads_and_tails, "Heads and tails tank"), "vat", stage, 1600.0, self.vat_celsius)
        self.holds(plant.heads_and_tails, 60.0, 77.0)
        plant.baskets = 4
        plant.recipe = "No. 5"
        plant.opening_bottles = {kind: 12 * int(self.rng.integers(30, 60)) for kind in habits.products}

    def whisky_house(self) -> None:
        """Vats into which casks are emptied, in which they are brought together, and from which they are bottled."""
        for code, name, litres in WHISKY_VATS:
            self.vessel((code, name), "vat", "vatted and reduced", litres, self.vat_celsius)

    def cask_store(self, year: int, maturing: int | None) -> None:
        rng, plant = self.rng, self.plant
        plant.casks = empty_casks(rng, 520, year, CASKS, WAREHOUSES)
        plant.maturing = maturing_casks(rng, maturing or MATURING, year, CASKS, WAREHOUSES, 63.5)


def build_house(rng: np.random.Generator, habits: Habits) -> Plant:
    """The plant with its opening stock in it."""
    builder = _House(rng, habits)
    builder.wash_house()
    builder.still_house()
    builder.filling_store()
    builder.third_house()
    builder.cask_store(START.year, MATURING)
    builder.tools()
    builder.whisky_house()
    return builder.plant


def first_run_after(habits: Habits, day: datetime) -> int:
    """Which run of the wash still is about the first after a day: mashes before it, less those that still ferment."""
    before = hour_of(day) - habits.fermenting_hours
    return 1 + sum(hour < before for hour in habits.mashing_hours)
