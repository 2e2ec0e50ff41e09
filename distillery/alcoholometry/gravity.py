"""Strength of wash from its original and present gravity, by a published table of factors.

Wash carries solids, so the spirit tables do not hold for it: ``% vol = drop × f``, the drop in degrees (1000 × relative
density) and f from a dated table given as data. The bands are printed to one decimal with gaps between, so the drop is
brought to one decimal, half up, to find its band. Decimal arithmetic, because a round-down may follow.
The result is an estimate for the wash account and the plausibility of a charge; duty on spirit does not rest on it.
"""

import csv
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_HALF_UP, Decimal
from functools import cache
from importlib.resources import files
from itertools import pairwise
from math import erf, exp, inf, isfinite, pi, sqrt

from .errors import ImpossibleGravities, OutsideTable
from .wort import require_gravity

DEGREES_PER_GRAVITY = 1000
ONE_DECIMAL = Decimal("0.1")
# No gravity is read this fine: what lies below came in with a division by 1000 in binary.
BINARY_NOISE = Decimal("1e-9")


@dataclass(frozen=True, slots=True)
class FactorBand:
    """Drops ``from_degrees`` to ``to_degrees`` (both included, one decimal) and their factor, % vol per degree."""

    from_degrees: Decimal
    to_degrees: Decimal
    factor: Decimal


@dataclass(frozen=True, slots=True)
class GravityTable:
    """A published table of factors, in force from ``from_date``, with its source; bands in rising order."""

    from_date: date
    source: str
    bands: tuple[FactorBand, ...]

    def __post_init__(self) -> None:
        if not self.bands:
            raise OutsideTable("The table of gravity factors is empty: load one with at least one band.")
        if any(band.to_degrees < band.from_degrees for band in self.bands) or any(
            later.from_degrees - earlier.to_degrees != ONE_DECIMAL for earlier, later in pairwise(self.bands)
        ):
            raise OutsideTable("The bands of the gravity table must rise by one decimal without gap or overlap.")

    def factor(self, drop_degrees: Decimal) -> Decimal:
        """Factor for a drop in degrees, brought to one decimal half up; raises OutsideTable."""
        drop = drop_degrees.quantize(ONE_DECIMAL, rounding=ROUND_HALF_UP)
        for band in self.bands:
            if band.from_degrees <= drop <= band.to_degrees:
                return band.factor
        raise OutsideTable(
            f"The table has no factor for a gravity drop of {drop} degrees (it covers {self.bands[0].from_degrees} to "
            f"{self.bands[-1].to_degrees}): check both gravities, or find the strength by distilling a sample."
        )


def step_uncertainty_percent(table: GravityTable, *, drop_degrees: float, u_degrees: float) -> float:
    """What the steps between a table's factors add to the uncertainty of a strength, % vol, in quadrature.

    The drop is normal with standard uncertainty ``u_degrees``; the strength is drop × f(drop) with the factor of each
    drop's own band, and what its variance has more than the factor held would give is the step's (propagation of
    distributions, JCGM 101:2008; exact, from the moments of a normal between the edges of the bands). Far from an edge
    it is nothing. A drop outside the table takes the factor of its nearest band here.
    """
    if u_degrees <= float(BINARY_NOISE):
        return 0.0
    held = table.factor(Decimal(repr(drop_degrees)))
    # Of what the other bands' factors add to the strength: its mean, its square, and its product with the drop.
    mean = square = product = 0.0
    half = float(ONE_DECIMAL) / 2.0
    edges = [-inf, *(float(band.to_degrees) + half for band in table.bands[:-1]), inf]
    for band, (low, high) in zip(table.bands, pairwise(edges), strict=True):
        more = float(band.factor - held)
        if not more:
            continue
        first, second = _moments_between(drop_degrees, u_degrees, low, high)
        mean += more * first
        square += more**2 * second
        product += more * second
    return sqrt(max(square - mean**2 + 2.0 * float(held) * (product - drop_degrees * mean), 0.0))


def _moments_between(centre: float, spread: float, low: float, high: float) -> tuple[float, float]:
    """First and second moment of a normal, counted only between two edges."""

    def density(z: float) -> float:
        return exp(-0.5 * z * z) / sqrt(2.0 * pi) if isfinite(z) else 0.0

    def times(z: float) -> float:
        return z * density(z) if isfinite(z) else 0.0

    a, b = (low - centre) / spread, (high - centre) / spread
    inside = 0.5 * (erf(b / sqrt(2.0)) - erf(a / sqrt(2.0)))
    ends = density(a) - density(b)
    first = centre * inside + spread * ends
    second = (centre**2 + spread**2) * inside + 2.0 * centre * spread * ends + spread**2 * (times(a) - times(b))
    return first, second


def read_gravity_table(text: str) -> GravityTable:
    """Table from CSV text: ``# From: YYYY-MM-DD`` and ``# Source: ...`` lines, a header, then from, to, factor.

    Raises OutsideTable when a line is missing or a figure cannot be read.
    """
    from_date = source = ""
    rows: list[str] = []
    for line in text.splitlines():
        if line.startswith("# From:"):
            from_date = line.removeprefix("# From:").strip()
        elif line.startswith("# Source:"):
            source = line.removeprefix("# Source:").strip()
        elif line.strip() and not line.startswith("#"):
            rows.append(line)
    if not from_date or not source:
        raise OutsideTable("A gravity table needs a '# From:' line with its date and a '# Source:' line.")
    try:
        bands = tuple(FactorBand(*(Decimal(cell) for cell in row)) for row in list(csv.reader(rows))[1:])
        return GravityTable(from_date=date.fromisoformat(from_date), source=source, bands=bands)
    except (ArithmeticError, TypeError, ValueError) as error:
        raise OutsideTable(f"The gravity table cannot be read: {error}.") from error


@cache
def hmrc_gravity_table() -> GravityTable:
    """The table of factors that ships with the program (HMRC Excise Notice 226)."""
    return read_gravity_table(
        (files(__package__) / "tables" / "hmrc_gravity_drop_factor.csv").read_text(encoding="utf-8")
    )


def gravity_drop_degrees(*, original_gravity: float, present_gravity: float) -> Decimal:
    """Original less present gravity in degrees, exact on the decimals as written (to the ninth).

    Gravities are relative densities such as 1.0603. Raises NotANumber, OutOfRange, or ImpossibleGravities for a
    negative drop.
    """
    original = _as_decimal(original_gravity, "Original gravity")
    present = _as_decimal(present_gravity, "Present gravity")
    if present > original:
        raise ImpossibleGravities(
            f"The present gravity {present} is above the original {original}: the two may be swapped, or one misread."
        )
    return (original - present) * DEGREES_PER_GRAVITY


def wash_percent(*, original_gravity: float, present_gravity: float, table: GravityTable) -> float:
    """Strength of wash, % vol at 20 °C, from gravities given as relative density such as 1.0603.

    Raises NotANumber, OutOfRange, ImpossibleGravities (present above original) or OutsideTable (drop above the table).
    """
    return float(wash_percent_exact(original_gravity=original_gravity, present_gravity=present_gravity, table=table))


def wash_percent_exact(*, original_gravity: float, present_gravity: float, table: GravityTable) -> Decimal:
    """As wash_percent, as the exact decimal a rounding rule wants."""
    drop = gravity_drop_degrees(original_gravity=original_gravity, present_gravity=present_gravity)
    return drop * table.factor(drop)


def _as_decimal(gravity: float, what: str) -> Decimal:
    return Decimal(repr(float(require_gravity(gravity, what)))).quantize(BINARY_NOISE)
