"""A small site by hand: a charge vessel A and a receiver B, gauged before and after each run. Invented figures.

Every gauge is a dip and a hydrometer: litres are the dip (one litre a millimetre), strength the hydrometer. So
LPA = dip x hydrometer / 100, and both slopes are known without any table.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

from msgspec import structs

from distillery.plant.lookup import Plant
from ledger.comparing.model.equations import Equation
from ledger.comparing.model.usual_losses import ExpectedLoss
from ledger.comparing.observations.observed import (
    Doing,
    Event,
    Log,
    Measured,
    ObservedCharge,
    ObservedFlow,
    ObservedGauge,
    ObservedReading,
)

START = datetime(2027, 3, 1, 6, tzinfo=UTC)
# What comes in or goes out with nothing to balance it by.
FROM_OUTSIDE = "opening stock"
DIP_U, HYDROMETER_U = 0.85, 0.06
USUAL = ExpectedLoss(0.004, 0.003, 0.0015, 0.026, 10.0, "invented")
CHARGE = {"charge_before": 1, "charge_after": -1}


def usual_of(line: Equation) -> ExpectedLoss | None:
    return USUAL


def measured(key: str, record: str, vessel: str, column: str, dip: float, percent: float) -> Measured:
    """What a vessel holds by a dip and a hydrometer; nothing where the dip is 0."""
    if not dip:
        return Measured(key, "dip", vessel, 0.0, 0.0, 0.0, ())
    readings = (
        ObservedReading(
            f"{record}:{column}_dip_mm",
            "dip_mm",
            record,
            f"{column}_dip_mm",
            "DIP",
            dip,
            "mm",
            DIP_U,
            percent / 100.0,
            0.0,
            f"{dip:g}",
        ),
        ObservedReading(
            f"{record}:{column}_hydrometer_percent",
            "hydrometer_percent",
            record,
            f"{column}_hydrometer_percent",
            "ALC",
            percent,
            "% vol",
            HYDROMETER_U,
            dip / 100.0,
            1.0,
            f"{percent:.1f}",
        ),
    )
    return Measured(key, "dip", vessel, dip * percent / 100.0, percent, dip, readings)


def remeasure(one: Measured, parts: Mapping[str, float]) -> Measured:
    """The same arithmetic with a reading changed: what the program does by its tables."""
    values = {reading.part: parts.get(reading.part, reading.value) for reading in one.readings}
    dip, percent = values["dip_mm"], values["hydrometer_percent"]
    slopes = {"dip_mm": (percent / 100.0, 0.0), "hydrometer_percent": (dip / 100.0, 1.0)}
    readings = tuple(
        structs.replace(
            reading, value=values[reading.part], lpa=slopes[reading.part][0], percent=slopes[reading.part][1]
        )
        for reading in one.readings
    )
    return structs.replace(one, lpa=dip * percent / 100.0, percent=percent, litres20=dip, readings=readings)


class SmallSite:
    """Runs charged from A into B through a still, written down one after another."""

    def __init__(self, *, opened: bool = True) -> None:
        self.events: list[Event] = []
        self.held = {"A": (8000.0, 25.0), "B": (500.0, 70.0)}
        self.runs = 0
        for vessel in ("A", "B") if opened else ():
            self.gauge(f"OV{vessel}", FROM_OUTSIDE, vessel, "gauge", "after")

    def gauge(self, record: str, operation: str, vessel: str, name: str, role: str, **written: float) -> None:
        """Gauges a vessel as it truly is, or as `written` says instead."""
        dip, percent = self.held[vessel]
        dip, percent = written.get("dip", dip), written.get("percent", percent)
        at = START + timedelta(hours=len(self.events))
        key = f"{record}/{vessel}/{name}"
        self.events.append(
            ObservedGauge(
                Doing(record, operation.replace(" ", "_"), operation, "2027-03"),
                at,
                len(self.events),
                vessel,
                name,
                role,
                measured(key, record, vessel, name, dip, percent),
            )
        )

    def run(self, lost: float = 0.0, share: float = 0.0, wrong: Mapping[str, Mapping[str, float]] | None = None) -> str:
        """One run: 1,000 LPA charged, all but the usual loss and what is lost beside it into B at 70 % vol."""
        wrong = wrong or {}
        self.runs += 1
        record = f"SR{self.runs:04d}"

        def taken(vessel: str, name: str, role: str) -> None:
            self.gauge(record, "spirit run", vessel, name, role, **wrong.get(name, {}))

        taken("A", "charge_before", "before")
        self._take("A", 1000.0)
        taken("A", "charge_after", "after")
        taken("B", "spirit_before", "before")
        self._give("B", 1000.0 * (1.0 - USUAL.share - share) - lost)
        taken("B", "spirit_after", "after")
        self._give("A", 1000.0)
        self.gauge(f"TR{self.runs:04d}", FROM_OUTSIDE, "A", "top", "after")
        return record

    def empty_b(self, *, written: bool = True) -> None:
        """B drawn off to nothing, written down or not."""
        record = f"OUT{self.runs:04d}"
        if written:
            self.gauge(record, FROM_OUTSIDE, "B", "out_before", "before")
        self.held["B"] = (0.0, 70.0)
        if written:
            self.gauge(record, FROM_OUTSIDE, "B", "out_after", "after")

    def log(self, **more: Any) -> Log:
        ends = {"A": (0.0, 9000.0), "B": (0.0, 9000.0)}
        sources = frozenset(one.doing.record for one in self.events if one.doing.operation == FROM_OUTSIDE)
        log = Log(events=self.events, table_ends=ends, judged_against=self._charges(), sources=sources)
        return replace(log, **more)

    def _charges(self) -> dict[str, ObservedCharge]:
        """What each run is judged against: what the gauges of A say left it."""
        left: dict[str, float] = {}
        for event in self.events:
            if isinstance(event, ObservedGauge) and event.name in CHARGE:
                record = event.doing.record
                left[record] = left.get(record, 0.0) + CHARGE[event.name] * event.measured.lpa
        return {record: ObservedCharge("the charge", lpa, tuple(CHARGE.items())) for record, lpa in left.items()}

    def _take(self, vessel: str, lpa: float) -> None:
        dip, percent = self.held[vessel]
        self.held[vessel] = (dip - 100.0 * lpa / percent, percent)

    def _give(self, vessel: str, lpa: float) -> None:
        dip, percent = self.held[vessel]
        self.held[vessel] = (dip + 100.0 * lpa / percent, percent)


def flow(record: str, giver: str, taker: str, lpa: float, order: int) -> ObservedFlow:
    """A measured flow of so much alcohol, without readings of its own."""
    doing = Doing(record, "spirit_run", "spirit run", "2027-03")
    one = Measured(f"{record}/{giver}/{taker}", "volume, strength", giver, lpa, 0.1, 10 * lpa, ())
    return ObservedFlow(doing, START + timedelta(hours=order), order, giver, taker, one)


class NoTables(Plant):
    """A plant of which nothing is kept: its vessels have no tables."""

    def __init__(self) -> None:
        pass

    def vessel(self, code: str) -> None:
        return None
