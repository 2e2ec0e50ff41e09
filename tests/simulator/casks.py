"""Casks: empty ones waiting to be filled, and those that have lain in the warehouse for years.

A maturing cask loses alcohol and bulk by yearly shares of its own; a leaking one has lost more, at the strength it
has. Weights are those a scale shows in air.
"""

from dataclasses import dataclass

import numpy as np

from .ethanol_water import density, mass_fraction_of, weight_in_air
from .liquid import Liquid
from .names import CASKS, TARES


@dataclass
class Cask:
    number: str
    kind: str
    fill_number: int
    nominal_litres: int
    warehouse: str
    tare_kg: float
    contents: Liquid

    def gross_kg(self, celsius: float) -> float:
        """What the scale would show, kg, with the liquid at this temperature."""
        liquid = self.contents
        return self.tare_kg + weight_in_air(liquid.mass, density(liquid.mass_fraction, celsius))


@dataclass
class MaturingCask(Cask):
    """A cask filled earlier; `contents` is what it held then, the written figures what the filling sheet said."""

    filled_at: str
    written_tare_kg: float
    written_gross_kg: float
    written_percent: float

    def aged(self, years: float, alcohol_share: float, bulk_share: float, leaked_share: float) -> Liquid:
        """What is left after these years at these yearly losses, and after a leak of so much of it."""
        then = self.contents
        alcohol = then.alcohol * (1.0 - alcohol_share) ** years
        percent = then.percent * ((1.0 - alcohol_share) / (1.0 - bulk_share)) ** years
        return Liquid.of(alcohol, percent).share(1.0 - leaked_share)


def _tare(rng: np.random.Generator, kind: str) -> float:
    mean, spread = TARES[kind]
    return mean + float(np.clip(rng.normal(), -2.5, 2.5)) * spread


def fill_litres(rng: np.random.Generator, nominal: int) -> float:
    """Litres at 20 °C that a careful hand puts into a cask of this size: the rated contents less head space."""
    return nominal * (0.992 + float(np.clip(rng.normal(), -2.0, 2.0)) * 0.0018)


def empty_casks(
    rng: np.random.Generator, count: int, year: int, kinds: dict[str, float], warehouses: tuple[str, ...]
) -> list[Cask]:
    """Casks ready to fill, numbered within the year, of these kinds in these shares."""
    names, shares = list(kinds), np.array(list(kinds.values()))
    drawn = rng.choice(len(names), size=count, p=shares / shares.sum())
    fills = rng.choice([1, 1, 1, 2, 2, 3], size=count)
    return [
        Cask(
            number=f"{year}/{i:04d}",
            kind=names[k],
            fill_number=int(fills[i - 1]),
            nominal_litres=CASKS[names[k]],
            warehouse=str(rng.choice(warehouses)),
            tare_kg=_tare(rng, names[k]),
            contents=Liquid(),
        )
        for i, k in enumerate(drawn, start=1)
    ]


def maturing_casks(
    rng: np.random.Generator,
    count: int,
    year: int,
    kinds: dict[str, float],
    warehouses: tuple[str, ...],
    percent: float,
) -> list[MaturingCask]:
    """Casks filled one to nine years before this year, at about this strength."""
    names, shares = list(kinds), np.array(list(kinds.values()))
    casks = []
    for i in range(1, count + 1):
        kind = names[int(rng.choice(len(names), p=shares / shares.sum()))]
        filled = year - int(rng.integers(1, 10))
        tare = _tare(rng, kind)
        strength = percent + float(rng.normal(0.0, 0.05))
        contents = Liquid.of_litres(fill_litres(rng, CASKS[kind]), strength)
        shown = tare + weight_in_air(contents.mass, density(mass_fraction_of(strength), 15.0))
        month, day, hour = (int(rng.integers(*between)) for between in ((1, 13), (1, 29), (8, 17)))
        casks.append(
            MaturingCask(
                number=f"{filled}/{i:04d}",
                kind=kind,
                fill_number=int(rng.choice([1, 1, 2, 2, 3])),
                nominal_litres=CASKS[kind],
                warehouse=str(rng.choice(warehouses)),
                tare_kg=tare,
                contents=contents,
                filled_at=f"{filled}-{month:02d}-{day:02d}T{hour:02d}:00",
                written_tare_kg=round(tare + float(rng.normal(0.0, 0.05)), 1),
                written_gross_kg=round(shown + float(rng.normal(0.0, 0.05)), 1),
                written_percent=round(strength + float(rng.normal(0.0, 0.04)), 1),
            )
        )
    return casks
