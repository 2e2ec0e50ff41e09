"""Figures of the site's rules in whole numbers: how many parts of its unit each is kept in."""

from __future__ import annotations

from decimal import Decimal
from typing import Final

MILLIONTHS_A_PERCENT: Final = 10_000
MILLIONTHS: Final = 1_000_000
MICROLITRES_A_LITRE: Final = 1_000_000
HUNDREDTHS_OF_A_PENNY_A_POUND: Final = 10_000


class UnusableFigureError(ValueError):
    """A figure cannot be kept; the sentence names it."""


def whole(figure: str | Decimal, per_unit: int) -> int:
    """`figure` in parts of its unit, exactly; raises UnusableFigureError if it has more decimals than that."""
    parts = Decimal(figure) * per_unit
    if parts != parts.to_integral_value():
        raise UnusableFigureError(f"The figure {figure} has more decimals than can be kept (1/{per_unit}).")
    return int(parts)
