"""The still house by the season, and a store that keeps nothing back for the third still."""

from collections.abc import Callable

from tests.simulator.habits import Habits
from tests.simulator.month import Month
from tests.simulator.spirit_store import SpiritStore
from tests.simulator.stillhouse import StillHouse

from .seasons import in_season


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


class Store(SpiritStore):
    """The third still is charged with neutral spirit, so a filling may empty its vat."""

    @property
    def reserve_alcohol(self) -> float:
        return 0.0
