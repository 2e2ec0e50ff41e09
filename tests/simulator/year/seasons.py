"""What the seasons change: the temperature at which liquid stands, and a little of what the stills lose.

A cool climate by the sea, warmest late in July. How far each place follows the weather, and that a condenser loses
more as its water is warm, is common practice, no source; so are the figures.
"""

import math
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime

from tests.simulator.habits import Habits
from tests.simulator.instruments import Instruments

from .calendar import hour_of

WARMEST = hour_of(datetime(2026, 7, 25))
HOURS_OF_A_YEAR = 365.25 * 24.0
# Degrees either way of what stands cool in a warehouse, and of what stands in the still house and among the vats.
OF_A_WAREHOUSE, OF_A_HOUSE = 5.5, 3.0
COOL, WARM = 12.0, 26.0
OF_A_LOSS = 0.08


def warmth(hours: float) -> float:
    """From -1 in the depth of winter to 1 at the height of summer."""
    return math.cos(2.0 * math.pi * (hours - WARMEST) / HOURS_OF_A_YEAR)


def in_season(habits: Habits, hours: float) -> Habits:
    """The same habits with what the condensers lose at this time of the year."""
    more = 1.0 + OF_A_LOSS * warmth(hours)
    return replace(
        habits,
        wash_vapour_share=habits.wash_vapour_share * more,
        spirit_vapour_share=habits.spirit_vapour_share * more,
    )


class SeasonalInstruments(Instruments):
    """Instruments in a house that is warmer in summer; what comes hot from a fermentation does not feel it."""

    clock: Callable[[], float] = staticmethod(lambda: 0.0)

    def temperature(self, about: float, spread: float = 1.0) -> float:
        if about > WARM:
            return super().temperature(about, spread)
        follows = OF_A_WAREHOUSE if about < COOL else OF_A_HOUSE
        return super().temperature(about + follows * warmth(self.clock()), spread)
