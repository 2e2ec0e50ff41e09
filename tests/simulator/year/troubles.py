"""The two troubles of a year: a wash still that loses a little more from a month on, and a delivery that was short."""

from dataclasses import dataclass
from datetime import datetime

import numpy as np

from tests.simulator.habits import Habits
from tests.simulator.month import Month, Row

from .house import first_run_after


@dataclass
class Troubles:
    """What goes wrong; nothing at all as it stands."""

    leak_share: float = 0.0
    leak_from_run: int = 0
    short_share: float = 0.0
    """How much less of a delivery arrived than its document says, of its alcohol."""
    short_delivery: int = 0
    """Which delivery of neutral spirit, from 1."""
    short_record: str = ""

    def at_the_stills(self, habits: Habits) -> Habits:
        """The habits with the loss at the wash still, where there is one."""
        return habits.leaking("wash", self.leak_share, self.leak_from_run) if self.leak_share else habits

    def missing_of(self, delivery: int, record: str) -> float:
        """The share that is missing of a delivery, noted with its record."""
        if delivery != self.short_delivery:
            return 0.0
        self.short_record = record
        return self.short_share

    def that_showed(self, year: Month) -> list[Row]:
        """The troubles as the truth lists them."""
        planted: list[Row] = []
        if self.leak_share and len(year.rows["wash_runs"]) >= self.leak_from_run:
            planted.append({"leak": "wash", "from_n": self.leak_from_run, "share": self.leak_share})
        if self.short_record:
            planted.append({"short_delivery": self.short_record, "share": self.short_share})
        return planted


def draw_troubles(rng: np.random.Generator, habits: Habits) -> Troubles:
    """A loss of about one part in a hundred that begins between September and November, and one short delivery."""
    begins = datetime(2026, int(rng.integers(9, 12)), int(rng.integers(2, 20)))
    return Troubles(
        leak_share=round(float(rng.uniform(0.010, 0.014)), 4),
        leak_from_run=first_run_after(habits, begins),
        short_share=round(float(rng.uniform(0.022, 0.035)), 4),
        short_delivery=int(rng.integers(2, 6)),
    )
