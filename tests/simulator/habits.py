"""The usual ways of a distillery: how much it mashes, how strong, what it usually loses, what it bottles.

`regauges` and `removals` are those of one month, hours those of all the `months` it is worked through.
Shares are of the alcohol that goes in unless said otherwise. The ranges are those of malt distilling with pot stills;
where a loss is named its usual size is common practice, no source, beside the floors that end points of 1 % set.
"""

from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np

from .instruments import percent_by_attenuation

SIZES = ("small", "ordinary", "large")

_MASH_TONNES = {"small": (0.5, 1.0), "ordinary": (1.0, 2.5), "large": (3.0, 5.0)}
_MASHING = {
    "small": ("thrice a week", "weekdays"),
    "ordinary": ("weekdays", "weekdays", "six days", "daily"),
    "large": ("weekdays", "six days", "daily", "sixteen hours"),
}
_MALT_ONLY = {"small": 0.45, "ordinary": 0.25, "large": 0.3}


@dataclass(frozen=True)
class Habits:
    size: str
    mash_kg: float
    mashing_hours: tuple[float, ...]
    predicted_yield: float
    yield_reached: float
    original_gravity: float
    final_gravity: float
    fermenting_hours: float
    reading_hours: float
    washbacks: int
    charges_per_washback: int
    stills: int
    low_wines_percent: float
    pot_ale_share: float
    wash_vapour_share: float
    cut_share: float
    cut_percent: float
    feints_percent: float
    lees_share: float
    lees_written_percent: float | None
    spirit_vapour_share: float
    cuts_per_transfer: int
    receiver_heel_litres: float
    transfer_share: float
    vats: int
    vatting: bool
    fill_percent: float | None
    filling_share: float
    bottling_share: float
    products: tuple[str, ...]
    third_hours: tuple[float, ...]
    third_charge: float
    heart_share: float
    heads_tails_share: float
    third_loss_share: float
    heart_percent: dict[str, float]
    label_percent: dict[str, float]
    bottle_centilitres: int
    bottles_per_case: int
    bottles_per_layer: int
    regauges: int
    removals: int
    months: int = 1
    wash_leak_share: float = 0.0
    wash_leak_from: int = 0
    spirit_leak_share: float = 0.0
    spirit_leak_from: int = 0

    @property
    def charge_alcohol(self) -> float:
        """LPA of one charge of the wash still."""
        return self.mash_kg / 1000.0 * self.predicted_yield * self.yield_reached / self.charges_per_washback

    @property
    def wash_percent(self) -> float:
        return percent_by_attenuation(self.original_gravity, self.final_gravity)

    @property
    def wash_litres(self) -> float:
        """Litres at 20 °C of the wash of one mash."""
        return self.charge_alcohol * self.charges_per_washback / self.wash_percent * 100.0

    @property
    def spirit_charge_alcohol(self) -> float:
        """LPA of a charge of the spirit still once feints go round steadily: low wines over one less what returns."""
        return self.charge_alcohol * 0.988 / (self.cut_share + self.lees_share + self.spirit_vapour_share)

    @property
    def cut_litres(self) -> float:
        return self.spirit_charge_alcohol * self.cut_share / self.cut_percent * 100.0

    @property
    def runs_expected(self) -> int:
        """Runs of the wash still in all the months."""
        return len(self.mashing_hours) * self.charges_per_washback

    def leaking(self, still: str, share: float, from_n: int) -> "Habits":
        """The same habits with a lasting leak on one kind of still."""
        if still == "wash":
            return replace(self, wash_leak_share=share, wash_leak_from=from_n)
        return replace(self, spirit_leak_share=share, spirit_leak_from=from_n)


def mashing_times(pattern: str, start: datetime, hours: float) -> tuple[float, ...]:
    """Hours after the start of the month at which a mash is due."""
    if pattern == "sixteen hours":
        return tuple(np.arange(0.0, hours, 16.0).tolist())
    days = {"thrice a week": (0, 2, 4), "weekdays": range(5), "six days": range(6), "daily": range(7)}[pattern]
    first = start.weekday()
    return tuple(24.0 * day for day in range(int(hours // 24)) if (first + day) % 7 in days)


def draw_habits(rng: np.random.Generator, size: str, start: datetime, hours: float, months: int = 1) -> Habits:
    """The habits of one random distillery of this size, worked through for so many hours, which are these months."""
    pattern = str(rng.choice(_MASHING[size]))
    mashing = mashing_times(pattern, start, hours)
    mash_kg = round(1000.0 * rng.uniform(*_MASH_TONNES[size]) / 50.0) * 50.0
    original, final = _gravities(rng)
    fermenting = rng.uniform(54.0, 84.0)
    interval = hours / len(mashing) if pattern != "weekdays" else 24.0
    charges = 2 if rng.random() < {"small": 0.15, "ordinary": 0.35, "large": 0.5}[size] and interval >= 24 else 1
    malt_only = rng.random() < _MALT_ONLY[size]
    products = () if malt_only else (("gin",), ("gin", "vodka"), ("gin", "vodka"), ("vodka",))[int(rng.integers(4))]
    third_runs = 0 if malt_only else months * int(rng.integers(1, 3 if size == "small" else 5))
    last_third = (months - 1 + 0.88) * (hours / months)
    alcohol = mash_kg / 1000.0 * 405.0 / charges
    lees = rng.uniform(0.0006, 0.0014)
    return Habits(
        size=size,
        mash_kg=mash_kg,
        mashing_hours=mashing,
        predicted_yield=rng.uniform(404.0, 416.0),
        yield_reached=rng.uniform(0.975, 0.995),
        original_gravity=original,
        final_gravity=final,
        fermenting_hours=fermenting,
        reading_hours=float(rng.choice([4, 6, 6, 8, 12])),
        washbacks=min(12, max(3, int(np.ceil((fermenting + 24.0) / interval)) + 1)),
        charges_per_washback=charges,
        stills=2 if size == "large" and rng.random() < 0.5 else 1,
        low_wines_percent=rng.uniform(21.5, 26.5),
        pot_ale_share=rng.uniform(0.0045, 0.0070),
        wash_vapour_share=rng.uniform(0.0040, 0.0065),
        cut_share=rng.uniform(0.50, 0.66),
        cut_percent=rng.uniform(67.5, 71.5),
        feints_percent=rng.uniform(31.0, 38.0),
        lees_share=lees,
        lees_written_percent=0.05 if rng.random() < 0.6 else None,
        spirit_vapour_share=rng.uniform(0.005, 0.009) - lees,
        cuts_per_transfer=int(rng.choice([1, 2, 2, 3])),
        receiver_heel_litres=0.0 if rng.random() < 0.7 else 0.02 * alcohol,
        transfer_share=rng.uniform(0.0006, 0.0014),
        vats=2 if rng.random() < 0.4 else 1,
        vatting=bool(rng.random() < 0.5),
        fill_percent=float(rng.choice([63.5, 63.5, 63.5, 62.8, 64.0])) if rng.random() < 0.85 else None,
        filling_share=rng.uniform(0.0005, 0.0020),
        bottling_share=rng.uniform(0.003, 0.006),
        products=products,
        third_hours=tuple(sorted(rng.uniform(72.0, last_third, third_runs).tolist())),
        third_charge=round(max(60.0, alcohol * rng.uniform(0.25, 0.55)) / 10.0) * 10.0,
        heart_share=rng.uniform(0.885, 0.905),
        heads_tails_share=rng.uniform(0.082, 0.094),
        third_loss_share=rng.uniform(0.010, 0.014),
        heart_percent={"gin": rng.uniform(78.0, 84.0), "vodka": rng.uniform(93.5, 95.3)},
        label_percent={"gin": round(rng.uniform(39.0, 46.0), 1), "vodka": round(rng.uniform(37.5, 40.0), 1)},
        bottle_centilitres=int(rng.choice([70, 70, 70, 50])),
        bottles_per_case=int(rng.choice([6, 6, 12])),
        bottles_per_layer=int(rng.choice([60, 72, 96])),
        regauges=0 if rng.random() < 0.25 else int(rng.integers(5, 20)),
        removals=0 if rng.random() < 0.15 else int(rng.integers(1, 6)),
        months=months,
    )


def _gravities(rng: np.random.Generator) -> tuple[float, float]:
    """Original and final gravity whose loss keeps clear of the steps between two factors."""
    while True:
        original, final = rng.uniform(1.054, 1.068), rng.uniform(0.9966, 0.9994)
        lost = 1000.0 * (original - final)
        if min(abs(lost - 57.15), abs(lost - 67.95)) > 2.6:
            return float(original), float(final)
