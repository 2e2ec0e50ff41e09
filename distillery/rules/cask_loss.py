"""What a cask loses a year, compounded: the one place where years and yearly losses of a cask are worked out.

What is left after t years of a yearly share a is L0 × (1 − a)^t, never a straight line and never a logarithm. Worked:
127.000 litres of pure alcohol filled and 112.054 five years on are 2.47 % a year (2.35 by a straight line, 2.50 by a
logarithm); over ten years at 2 %, 18.3 % is lost and not 20. Pure functions, no database.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Final

DAYS_A_YEAR: Final = 365.25
SECONDS_A_DAY: Final = 86_400


def years_between(start: datetime, end: datetime) -> float:
    """Years of 365.25 days from one moment to another; negative where the end comes first."""
    return (end - start).total_seconds() / SECONDS_A_DAY / DAYS_A_YEAR


def kept_share(yearly_share: float, years: float) -> float:
    """The share left after years in which this share (0 to 1) is lost in each, compounded."""
    kept: float = (1.0 - yearly_share) ** years
    return kept


@dataclass(frozen=True, slots=True)
class YearlyBand:
    """What casks of a kind are expected to lose a year, as shares (0 to 1): the lowest and the highest of the band."""

    low: float
    high: float

    @property
    def middle(self) -> float:
        """The yearly share that is expected most."""
        return 0.5 * (self.low + self.high)

    def left_after(self, years: float, *, wood_held: float = 0.0) -> BandLeft:
        """The shares left after so many years; years count to the second, for a band of days would have steps.

        `wood_held` is the share that dry wood takes up in the first year, evenly until it is over: L0 (1 - w) (1 - a)^t
        (0 to 0.03: common practice, no source). Nothing of it counts where the years begin at a gauge.
        """
        free = 1.0 - wood_held * min(max(years, 0.0), 1.0)
        shares = (free * kept_share(yearly, years) for yearly in (self.high, self.middle, self.low))
        return BandLeft(*shares)


@dataclass(frozen=True, slots=True)
class BandLeft:
    """What a cask should still hold, as shares of what it held: at least, most likely, at most."""

    least: float
    middle: float
    most: float


def beyond_band(short: float, most: float) -> float:
    """What of a shortfall is a difference: only what is beyond the most the band expects, and any gain (negative)."""
    return short - most if short > most else min(short, 0.0)


def yearly_share(before: float, after: float, years: float) -> float:
    """The share lost in each year that leaves `after` of `before`; negative for a gain.

    Both in one unit and not negative; `before` and `years` must be more than 0. Raises ValueError otherwise.
    """
    if before <= 0 or after < 0 or years <= 0:
        raise ValueError(f"No yearly loss from {before:g} to {after:g} in {years:g} years.")
    kept: float = (after / before) ** (1.0 / years)
    return 1.0 - kept


def yearly_loss_percent(before: float, after: float, years: float) -> float:
    """The same in percent a year."""
    return 100.0 * yearly_share(before, after, years)
