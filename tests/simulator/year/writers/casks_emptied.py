"""What happens to casks besides being filled and regauged: which are kept for it, what one holds by now, its weighing.

Casks that are emptied are kept out of the regauges, so that none is weighed after it is gone.
"""

from datetime import datetime

import numpy as np

from tests.simulator.casks import Cask, MaturingCask
from tests.simulator.instruments import Instruments
from tests.simulator.liquid import Liquid
from tests.simulator.month import Month, Row
from tests.simulator.year.calendar import START

# One in so many of the maturing casks is kept to be emptied; those that lie long enough are disgorged.
ONE_IN = 3
LAST_YEAR_OLD_ENOUGH = 2022
WEIGHED = ("tare_kg", "gross_kg", "celsius", "hydrometer_percent")


def kept_back(maturing: list[MaturingCask]) -> list[MaturingCask]:
    """The casks that are never regauged."""
    return maturing[::ONE_IN]


def old_casks(maturing: list[MaturingCask], kinds: tuple[str, ...] = ("barrel", "hogshead")) -> list[MaturingCask]:
    """The casks kept back that are of these kinds and lie for three years and more, the oldest first."""
    old = [one for one in kept_back(maturing) if int(one.filled_at[:4]) <= LAST_YEAR_OLD_ENOUGH and one.kind in kinds]
    return sorted(old, key=lambda one: one.filled_at)


def held_by_now(year: Month, cask: MaturingCask, rng: np.random.Generator) -> Liquid:
    """What is left in a cask, by yearly losses as at a regauge."""
    began = datetime.fromisoformat(cask.filled_at)
    years = ((START - began).total_seconds() / 3600.0 + year.now) / (24.0 * 365.25)
    share = max(0.008, float(rng.normal(0.019, 0.0022)))
    return cask.aged(years, share, 0.8 * share, 0.0)


def weighing(tools: Instruments, held: Liquid, tare_kg: float, written_tare_kg: float | None = None) -> Row:
    """The cells of a cask weighed and proved in the cool of the warehouse."""
    celsius = tools.temperature(11.0, 1.5)
    weighed = Cask("", "", 0, 0, "", tare_kg, held)
    return {
        "tare_kg": tools.weight(tare_kg) if written_tare_kg is None else written_tare_kg,
        "gross_kg": tools.weight(weighed.gross_kg(celsius)),
        "celsius": tools.celsius(celsius),
        "hydrometer_percent": tools.hydrometer(held.percent, celsius),
    }
