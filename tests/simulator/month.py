"""A month at a distillery as it unfolds: the clock, who holds which vessel, what was written down and what is true.

Everything that came in and everything that left is kept as liquid, so that alcohol and mass can be added up at the end.
Work waits for its vessels; nothing touches a vessel while a run is using it.
"""

import heapq
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

import numpy as np

from .instruments import Gauge, Instruments, alcohol_of
from .liquid import Liquid
from .plant import Plant
from .vessels import Vessel

Row = dict[str, Any]

LOSS_CAUSES = (
    "pot ale",
    "wash run",
    "leak",
    "spent lees",
    "spirit run",
    "transfer",
    "third still",
    "bottling",
    "filling",
)


@dataclass
class Mark:
    """Readings that stand together for so much alcohol, and the columns of them in which a slip can be made."""

    table: str
    rows: list[Row]
    record: str
    operation: str
    n: int
    fields: dict[str, str]
    """Column and what kind of reading it holds: dip, hydrometer, celsius, gravity, weight, bottles."""
    measure: Callable[[Mapping[str, Any]], float]
    """LPA that a row with these readings stands for; ValueError where they are impossible."""
    only_for_error: tuple[str, ...] = ()
    """Columns that count in the error of the measure and take no slip of this mark."""
    cask: str | None = None


@dataclass
class Month:
    plant: Plant
    start: datetime
    hours: float
    rng: np.random.Generator
    tools: Instruments
    now: float = 0.0
    rows: dict[str, list[Row]] = field(default_factory=lambda: defaultdict(list))
    readings: list[tuple[float, list[Row]]] = field(default_factory=list)
    marks: list[Mark] = field(default_factory=list)
    operations: list[Row] = field(default_factory=list)
    came: dict[str, Liquid] = field(default_factory=lambda: defaultdict(Liquid))
    left: dict[str, Liquid] = field(default_factory=lambda: defaultdict(Liquid))
    opening: dict[str, Liquid] = field(default_factory=dict)
    bottles: dict[str, int] = field(default_factory=dict)
    filled: dict[str, Liquid] = field(default_factory=dict)
    leaking_cask: tuple[str, float] | None = None
    _numbers: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    _held: dict[str, float] = field(default_factory=lambda: defaultdict(float))
    _work: list[tuple[float, int, Callable[[], None]]] = field(default_factory=list)

    def stamp(self, hours: float) -> str:
        return (self.start + timedelta(minutes=round(hours * 60.0))).strftime("%Y-%m-%dT%H:%M")

    def number(self, prefix: str) -> tuple[str, int]:
        """The next record number of a kind, as written and as a count."""
        self._numbers[prefix] += 1
        return f"{prefix}{self._numbers[prefix]:04d}", self._numbers[prefix]

    def at(self, hours: float, work: Callable[..., None], *arguments: Any) -> None:
        """Do this work at this hour, unless the month is over by then."""
        if hours < self.hours:
            self._numbers["work"] += 1
            heapq.heappush(self._work, (hours, self._numbers["work"], lambda: work(*arguments)))

    def after(self, hours: float, work: Callable[..., None], *arguments: Any) -> None:
        self.at(self.now + hours, work, *arguments)

    def run(self) -> None:
        while self._work:
            self.now, _, work = heapq.heappop(self._work)
            work()
        self.now = self.hours

    def hold(self, until: float, *resources: str) -> None:
        for resource in resources:
            self._held[resource] = max(self._held[resource], until + self.rng.uniform(0.1, 0.3))

    def at_rest(self) -> list[Vessel]:
        """The vessels of spirit that nothing is using."""
        return [vessel for vessel in self.plant.gauged_vessels if self._held[vessel.code] <= self.now]

    def must_wait(self, resources: tuple[str, ...], work: Callable[..., None], *arguments: Any) -> bool:
        """Whether something this work needs is in use; if so the work is put off until it is free."""
        free = max(self._held[resource] for resource in resources)
        if free <= self.now:
            return False
        self.at(free, work, *arguments)
        return True

    def gauge(self, vessel: Vessel, table: str, row: Row, prefix: str, record: str, operation: str, n: int) -> Gauge:
        """Gauge a vessel, write the readings into the row, and remember that a slip could be made there."""
        gauge = self.tools.gauge(vessel)
        self.write_gauge(gauge, table, [row], prefix, record, operation, n)
        return gauge

    def write_gauge(
        self, gauge: Gauge, table: str, rows: list[Row], prefix: str, record: str, operation: str, n: int
    ) -> None:
        for row in rows:
            row.update(gauge.cells(prefix))
        if gauge.hydrometer_percent is None:
            return
        dip, celsius, strength = gauge.cells(prefix)
        fields = {dip: "dip", celsius: "celsius", strength: "hydrometer"}

        def measure(cells: Mapping[str, Any]) -> float:
            return alcohol_of(gauge.calibration, cells[dip], cells[celsius], cells[strength])

        self.marks.append(Mark(table, rows, record, operation, n, fields, measure))

    def done(self, operation: str, n: int, record: str, **figures: Any) -> None:
        """Write the true figures of an operation down for the ledger that knows everything."""
        self.operations.append({"operation": operation, "n": n, "record": record, **figures})

    def come(self, source: str, liquid: Liquid) -> None:
        self.came[source] = self.came[source] + liquid

    def leave(self, cause: str, liquid: Liquid) -> None:
        self.left[cause] = self.left[cause] + liquid

    def vessel(self, code: str) -> Vessel:
        return self.plant.vessels[code]

    def read(self, started: float, record: str, readings: list[tuple[float, str, float]]) -> None:
        """Readings taken in the course of one record: hour, quantity, value."""
        rows = [
            {"record": record, "at": self.stamp(hours), "quantity": quantity, "value": value}
            for hours, quantity, value in readings
        ]
        self.readings.append((started, rows))

    def losses(self) -> dict[str, float]:
        """LPA lost by cause."""
        return {cause: self.left[cause].alcohol for cause in LOSS_CAUSES}

    def gap(self) -> tuple[float, float, float, float]:
        """Alcohol that came less alcohol that is or went somewhere, the same of mass, and the two totals."""
        came = sum(self.came.values(), Liquid())
        held = sum((vessel.contents for vessel in self.plant.vessels.values()), Liquid())
        gone = sum(self.left.values(), held)
        return came.alcohol - gone.alcohol, came.mass - gone.mass, came.alcohol, came.mass


def open_month(month: Month) -> None:
    """Gauge what is there on the first morning."""
    month.bottles = dict(month.plant.opening_bottles)
    for vessel in month.plant.gauged_vessels:
        if vessel.contents.is_empty:
            continue
        month.opening[vessel.code] = vessel.contents
        month.come("opening", vessel.contents)
        row: Row = {"vessel": vessel.code, "at": month.stamp(0.0)}
        row.update(month.tools.gauge(vessel).cells("gauge"))
        month.rows["opening_stock"].append(row)
    for product, count in month.bottles.items():
        month.rows["opening_bottled_stock"].append(
            {
                "product": product,
                "bottle_centilitres": month.plant.habits.bottle_centilitres,
                "label_percent": month.plant.habits.label_percent[product],
                "bottles": count,
            }
        )


def close_month(month: Month, *, list_empty: bool) -> None:
    """Take stock on the last morning; some sites list the vessels they found empty and some do not."""
    take_stock(month, month.plant.gauged_vessels, list_empty=list_empty)


def take_stock(month: Month, vessels: Iterable[Vessel], *, list_empty: bool) -> None:
    """Gauge these vessels, one after another in the same hour."""
    for vessel in vessels:
        if vessel.contents.is_empty and not list_empty:
            continue
        row: Row = {"at": month.stamp(month.now), "vessel": vessel.code}
        row.update(month.tools.gauge(vessel).cells("gauge"))
        month.rows["stock_take"].append(row)
