"""Vessels and their calibration: a dip and the litres it means, linear between the rows of the table.

Shapes are those found in a distillery: upright sides, sides that bulge, a drum lying down, a coned or dished bottom.
Dips in whole millimetres from the lowest point, litres at the temperature of the liquid; the shell is taken as rigid.
"""

import math
from bisect import bisect_right
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from .liquid import Liquid


@dataclass(frozen=True)
class Calibration:
    dips: tuple[int, ...]
    litres: tuple[float, ...]

    def litres_at(self, dip_mm: float) -> float:
        """Litres at a dip; ValueError outside the table."""
        return _between(self.dips, self.litres, dip_mm)

    def dip_at(self, litres: float) -> float:
        """The dip, mm, at which these litres stand; ValueError beyond the top of the table."""
        return _between(self.litres, self.dips, litres)


def _between(xs: tuple[float, ...], ys: tuple[float, ...], x: float) -> float:
    if not xs[0] <= x <= xs[-1]:
        raise ValueError(f"{x:.1f} is outside the calibration table, which runs from {xs[0]} to {xs[-1]}")
    i = min(bisect_right(xs, x), len(xs) - 1)
    part = (x - xs[i - 1]) / (xs[i] - xs[i - 1])
    return ys[i - 1] + part * (ys[i] - ys[i - 1])


def _filled_part(shape: str, h: float) -> float:
    """Share of the capacity below the relative height h (0 to 1)."""
    if shape == "upright":
        return h
    if shape == "bulged":
        return h - 0.1 * math.sin(4 * math.pi * h) / (4 * math.pi) - 0.12 * math.sin(2 * math.pi * h) / (2 * math.pi)
    if shape == "lying":
        return (math.acos(1 - 2 * h) - (1 - 2 * h) * math.sqrt(max(0.0, 4 * h * (1 - h)))) / math.pi
    cone, top = 0.12, 1 - 0.12 * 2 / 3
    return (h**3 / (3 * cone**2) if h < cone else h - cone * 2 / 3) / top


SHAPES = ("upright", "bulged", "lying", "coned")


def calibrate(rng: np.random.Generator, capacity: float, *, tall: bool) -> Calibration:
    """A table for a vessel of this capacity: a row for every 20 to 200 mm, closer at the bottom of some."""
    shape = str(rng.choice(SHAPES[:2] + SHAPES[3:] if tall else SHAPES))
    spacing = int(rng.choice([20, 50, 100, 100, 200]))
    depth = 100.0 * capacity ** (1 / 3) * rng.uniform(1.1, 1.6) * (1.2 if tall else 1.0)
    depth = max(10, round(depth / spacing)) * spacing
    dips = set(range(0, int(depth) + 1, spacing))
    if rng.random() < 0.4:
        dips |= set(range(0, spacing, 10))
    rows = [(dip, round(capacity * _filled_part(shape, dip / depth), 1)) for dip in sorted(dips)]
    rows = rows[:1] + [row for before, row in pairwise(rows) if row[1] > before[1] and row[1] > 0]
    return Calibration(tuple(dip for dip, _ in rows), tuple(litres for _, litres in rows))


@dataclass
class Vessel:
    """A vessel of the plant and what is truly in it; `celsius` is the temperature about which its contents stand."""

    code: str
    name: str
    kind: str
    stage: str
    capacity: float
    calibration: Calibration
    celsius: float
    contents: Liquid = field(default_factory=Liquid)

    def room_for(self, litres: float) -> bool:
        """Whether these litres more (at 20 °C) still fit, with head space for a warm day."""
        return self.contents.litres() + litres <= 0.95 * self.capacity
