"""New malt spirit: a little drawn from a vat before it goes into casks, reduced and bottled as it is; twice a year."""

from datetime import datetime

from tests.simulator.month import Month
from tests.simulator.spirit_store import reduce, transfer
from tests.simulator.third_still import ThirdStill
from tests.simulator.year.calendar import hour_of

PRODUCT, LABEL, BOTTLED_FROM = "new malt spirit", 50.0, "NV"
DAYS = (datetime(2026, 6, 8, 9, 20), datetime(2026, 11, 23, 9, 40))
LITRES = 260.0


class NewSpirit:
    """From the fuller vat, on the first morning on which it holds enough."""

    def __init__(self, year: Month) -> None:
        self.year = year

    def plan(self) -> None:
        for day in DAYS:
            self.year.at(hour_of(day), self.draw)

    def draw(self) -> None:
        year, into = self.year, self.year.vessel(BOTTLED_FROM)
        vat = max((year.vessel(code) for code in year.plant.vats), key=lambda one: one.contents.alcohol)
        if year.must_wait((vat.code, into.code), self.draw):
            return
        if vat.contents.litres() < 2.0 * LITRES:
            year.after(24.0, self.draw)
            return
        transfer(year, vat, into, vat.contents.share(LITRES / vat.contents.litres()))
        year.after(2.0, self.make_ready)

    def make_ready(self) -> None:
        reduce(self.year, self.year.vessel(BOTTLED_FROM), LABEL)
        self.year.after(22.0, ThirdStill(self.year).bottle, self.year.vessel(BOTTLED_FROM), PRODUCT)
