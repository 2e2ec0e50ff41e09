"""A random pot-still distillery: vessels and their tables, casks, recipes, instruments, and the stock it begins with.

Sizes follow from the habits: washbacks from the mash, receivers from the charge, vats from the month's spirit.
"""

from dataclasses import dataclass, field

import numpy as np

from . import names
from .casks import Cask, MaturingCask, empty_casks, maturing_casks
from .habits import Habits
from .instruments import STANDARD_ERRORS
from .liquid import Liquid
from .vessels import Vessel, calibrate

_DIVISIONS = (
    ("dip", "mm", 1, "dip"),
    ("temperature", "celsius", 0.1, "celsius"),
    ("strength", "percent_vol", 0.1, "hydrometer"),
    ("gravity", "relative_density", 0.0001, "gravity"),
    ("cask weight", "kg", 0.1, "weight"),
)


@dataclass
class Plant:
    habits: Habits
    vessels: dict[str, Vessel] = field(default_factory=dict)
    washbacks: list[str] = field(default_factory=list)
    low_wines: str = ""
    feints: str = ""
    spirit: str = ""
    vats: list[str] = field(default_factory=list)
    product_vats: dict[str, str] = field(default_factory=dict)
    heads_and_tails: str = ""
    bottling_vats: dict[str, str] = field(default_factory=dict)
    wash_stills: list[str] = field(default_factory=list)
    spirit_stills: list[str] = field(default_factory=list)
    recipe: str = ""
    botanicals: list[tuple[str, float]] = field(default_factory=list)
    baskets: int = 0
    opening_bottles: dict[str, int] = field(default_factory=dict)
    casks: list[Cask] = field(default_factory=list)
    maturing: list[MaturingCask] = field(default_factory=list)
    instruments: list[dict[str, object]] = field(default_factory=list)

    @property
    def gauged_vessels(self) -> list[Vessel]:
        """Every vessel that holds spirit rather than wash."""
        return [vessel for vessel in self.vessels.values() if vessel.kind != "washback"]


class _Builder:
    def __init__(self, rng: np.random.Generator, habits: Habits) -> None:
        self.rng = rng
        self.habits = habits
        self.plant = Plant(habits)
        self.still_house_celsius = rng.uniform(15.0, 20.5)
        self.vat_celsius = rng.uniform(11.0, 18.0)

    def vessel(self, name: tuple[str, str], kind: str, stage: str, litres: float, celsius: float) -> str:
        step = 100.0 if litres > 1000 else 50.0
        capacity = float(np.ceil(litres / step) * step)
        table = calibrate(self.rng, capacity, tall=kind == "washback")
        self.plant.vessels[name[0]] = Vessel(name[0], name[1], kind, stage, capacity, table, celsius)
        return name[0]

    def pick(self, pool: tuple[tuple[str, str], ...]) -> tuple[str, str]:
        return pool[int(self.rng.integers(len(pool)))]

    def wash_house(self) -> None:
        rng, habits, plant = self.rng, self.habits, self.plant
        code, name = self.pick(names.WASHBACKS)
        litres = habits.wash_litres * rng.uniform(1.09, 1.25)
        celsius = rng.uniform(29.0, 32.0)
        for i in range(1, habits.washbacks + 1):
            plant.washbacks.append(self.vessel((code.format(i), name.format(i)), "washback", "wash", litres, celsius))

    def still_house(self) -> None:
        rng, habits, plant = self.rng, self.habits, self.plant
        warm, stage = self.still_house_celsius, "low wines and feints"
        low_wines = habits.charge_alcohol / habits.low_wines_percent * 100.0
        feints = self.feints_alcohol / habits.feints_percent * 100.0
        plant.low_wines = self.vessel(
            self.pick(names.LOW_WINES), "receiver", stage, low_wines * rng.uniform(1.5, 2.5), warm
        )
        plant.feints = self.vessel(self.pick(names.FEINTS), "receiver", stage, feints * rng.uniform(1.8, 2.8), warm)
        litres = habits.cut_litres * (habits.cuts_per_transfer + 0.3) * rng.uniform(1.15, 1.6)
        plant.spirit = self.vessel(self.pick(names.SPIRIT), "receiver", "new spirit", litres, warm)
        plant.wash_stills = [f"WS{i}" for i in range(1, habits.stills + 1)]
        plant.spirit_stills = [f"SS{i}" for i in range(1, habits.stills + 1)]
        heel = rng.uniform(0.01, 0.03)
        self.holds(plant.low_wines, heel * low_wines, habits.low_wines_percent)
        self.holds(plant.feints, feints * rng.uniform(0.92, 1.08), habits.feints_percent)
        if rng.random() < 0.7:
            self.holds(plant.spirit, habits.cut_litres * rng.uniform(0.1, 0.4), habits.cut_percent)

    @property
    def feints_alcohol(self) -> float:
        habits = self.habits
        kept = 1.0 - habits.cut_share - habits.lees_share - habits.spirit_vapour_share
        return habits.spirit_charge_alcohol * kept

    def filling_store(self) -> None:
        rng, habits, plant = self.rng, self.habits, self.plant
        month = habits.cut_litres * habits.runs_expected / habits.months
        transfer = habits.cut_litres * habits.cuts_per_transfer
        litres = max(month * rng.uniform(0.35, 0.7) / habits.vats, 3.5 * transfer, 2.5 * habits.third_charge)
        code, name = self.pick(names.VATS)
        for i in range(1, habits.vats + 1):
            plant.vats.append(
                self.vessel((code.format(i), name.format(i)), "vat", "new spirit", litres, self.vat_celsius)
            )
        self.holds(plant.vats[0], litres * rng.uniform(0.15, 0.35), habits.cut_percent - rng.uniform(0.5, 4.0))

    def third_house(self) -> None:
        rng, habits, plant = self.rng, self.habits, self.plant
        if not habits.products:
            return
        cool = self.vat_celsius + 2.0
        stage = "rectified and compounded"
        for kind in habits.products:
            litres = habits.third_charge * 0.9 / habits.label_percent[kind] * 100.0 * rng.uniform(2.0, 3.0)
            code = plant.product_vats[kind] = self.vessel(
                self.pick(names.PRODUCT_VATS[kind]), "vat", stage, litres, cool
            )
            if rng.random() < 0.3:
                self.holds(code, litres * 0.12, habits.heart_percent[kind])
        litres = habits.third_charge * habits.heads_tails_share / 0.75
        plant.heads_and_tails = self.vessel(
            self.pick(names.HEADS_AND_TAILS), "vat", stage, litres * rng.uniform(6.0, 12.0), cool
        )
        if rng.random() < 0.7:
            self.holds(plant.heads_and_tails, litres * rng.uniform(0.4, 1.4), rng.uniform(76.0, 79.0))
        if rng.random() < 0.7:
            kind = str(rng.choice(habits.products))
            room = plant.vessels[plant.product_vats[kind]].capacity * rng.uniform(1.1, 1.6)
            plant.bottling_vats[kind] = self.vessel(
                self.pick(names.BOTTLING), "vat", "vatted and reduced", room, self.vat_celsius
            )
        plant.opening_bottles = {kind: int(rng.integers(15, 60)) * 12 for kind in habits.products}
        if "gin" in habits.products:
            plant.recipe = f"No. {int(rng.integers(1, 10))}"
            count = int(rng.integers(4, 8))
            chosen = names.BOTANICALS[:count]
            plant.botanicals = [(name, round(rng.uniform(low, high), 1)) for name, low, high in chosen]
        plant.baskets = int(rng.choice([2, 4, 4]))

    def holds(self, code: str, litres: float, percent: float) -> None:
        self.plant.vessels[code].contents = Liquid.of_litres(litres, percent)

    def cask_store(self, year: int, maturing: int | None) -> None:
        rng, habits, plant = self.rng, self.habits, self.plant
        count = int(rng.integers(2, len(names.CASKS) + 1))
        chosen = rng.choice(list(names.CASKS), size=count, replace=False)
        kinds = {str(kind): float(rng.uniform(0.3, 1.0)) for kind in chosen}
        mean_litres = sum(names.CASKS[kind] * share for kind, share in kinds.items()) / sum(kinds.values())
        month = habits.charge_alcohol * habits.runs_expected + plant.vessels[plant.vats[0]].contents.alcohol
        needed = month / (0.63 * mean_litres)
        houses = names.WAREHOUSES[int(rng.integers(len(names.WAREHOUSES)))]
        plant.casks = empty_casks(rng, int(needed * 1.6) + 12, year, kinds, houses)
        stock = int(rng.integers(20, {"small": 80, "ordinary": 400, "large": 800}[habits.size]))
        stock = stock if maturing is None else maturing
        plant.maturing = maturing_casks(rng, stock, year, kinds, houses, habits.fill_percent or habits.cut_percent)

    def tools(self) -> None:
        codes = names.INSTRUMENTS[int(self.rng.integers(len(names.INSTRUMENTS)))]
        for code, (measures, unit, division, error) in zip(codes, _DIVISIONS, strict=True):
            self.plant.instruments.append(
                {
                    "instrument": code,
                    "measures": measures,
                    "unit": unit,
                    "resolution": division,
                    "standard_uncertainty": round(STANDARD_ERRORS[error], 4 if error == "gravity" else 2),
                    "reference_celsius": 20 if error in ("hydrometer", "gravity") else None,
                }
            )


def build_plant(rng: np.random.Generator, habits: Habits, year: int, maturing: int | None = None) -> Plant:
    """A plant that can work as these habits ask, with its opening stock in it and so many casks maturing."""
    builder = _Builder(rng, habits)
    builder.wash_house()
    builder.still_house()
    builder.filling_store()
    builder.third_house()
    builder.cask_store(year, maturing)
    builder.tools()
    return builder.plant
