"""The still house by the season, and a store that keeps nothing back for the third still."""

from collections.abc import Callable

from tests.simulator.habits import Habits
from tests.simulator.month import Month
from tests.simulator.spirit_store import SpiritStore
from tests.simulator.stillhouse import StillHouse

from .calendar import put_off
from .seasons import in_season

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

    @property
    def reserve_alcohol(self) -> float:
        return 0.0
