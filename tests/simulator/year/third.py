"""The third still of the year: charged from the tank of neutral spirit."""

from tests.simulator.liquid import Liquid
from tests.simulator.month import Month, Row
from tests.simulator.third_still import ThirdStill
from tests.simulator.vessels import Vessel

from .calendar import put_off
from .house import NEUTRAL

# Hours of its longest run.
LONGEST_RUN = 9.6


class SmallStill(ThirdStill):
    """Everything made of neutral spirit."""

    def __init__(self, month: Month) -> None:
        super().__init__(month)
        self._charged: dict[str, Liquid] = {}

    def plan(self) -> None:
        for place, hours in enumerate(self.habits.third_hours):
            self.month.at(hours, self.charge, "vodka" if place % 3 == 2 else "gin")

    def _source(self) -> Vessel:
        return self.month.vessel(NEUTRAL)

    def charge(self, kind: str) -> None:
        later = put_off(self.month.now, LONGEST_RUN)
        if later is not None:
            self.month.at(later, self.charge, kind)
            return
        super().charge(kind)

    def make_room(self, kind: str, source: Vessel, tails: Vessel) -> None:
        self.make_ready(kind)

    def finish(self, row: Row, n: int, kind: str, charge: Liquid) -> None:
        water_before = self.month.came["water"]
        super().finish(row, n, kind, charge)
        row["charge_water_litres"] = round((self.month.came["water"] - water_before).litres())
        row["charged_alcohol"] = charge.alcohol
