"""The still house by the season, and a store that keeps nothing back for the third still."""

from collections.abc import Callable

from tests.simulator.habits import Habits
from tests.simulator.month import Month
from tests.simulator.spirit_store import SpiritStore
from tests.simulator.stillhouse import StillHouse

from .calendar import put_off
from .seasons import in_season
from .writers.casks_emptied import kept_back

# Hours of the longest run of a pot still.
LONGEST_RUN = 7.3


class SeasonalStillHouse(StillHouse):
    """Distils with what the condensers lose at the time."""

    def __init__(self, month: Month, send_spirit: Callable[[], None]) -> None:
        self._ways = month.plant.habits
        super().__init__(month, send_spirit)

    @property
    def habits(self) -> Habits:
        return in_season(self._ways, self.month.now)

    @habits.setter
    def habits(self, habits: Habits) -> None:
        self._ways = habits

    def deliver_malt(self) -> None:
        """As many mashes as come nearest, and the little more that a weighbridge shows: so a silo runs empty."""
        super().deliver_malt()
        row, a_mash = self.month.rows["intake"][-1], self.habits.mash_kg
        place = len(self.month.rows["intake"])
        row["kilograms"] = int(a_mash * round(row["kilograms"] / a_mash)) + 10 * (place % 4)
        self.malt_left = float(row["kilograms"])

    def charge_wash(self, code: str, part: int) -> None:
        later = put_off(self.month.now, LONGEST_RUN)
        if later is not None:
            self.month.at(later, self.charge_wash, code, part)
            return
        super().charge_wash(code, part)

    def charge_spirit(self) -> None:
        later = put_off(self.month.now, LONGEST_RUN)
        if later is not None:
            self.month.at(later, self.charge_spirit)
            return
        super().charge_spirit()


class Store(SpiritStore):
    """The third still is charged with neutral spirit, so a filling may empty its vat."""

    def __init__(self, month: Month) -> None:
        super().__init__(month)
        emptied = {one.number for one in kept_back(month.plant.maturing)}
        self.not_regauged = [one for one in month.plant.maturing if one.number not in emptied]

    @property
    def reserve_alcohol(self) -> float:
        return 0.0
