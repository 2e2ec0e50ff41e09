"""Deliveries of neutral spirit under bond: by document, gauged into its tank; one of them is short."""

from datetime import datetime, timedelta

import numpy as np

from tests.simulator.liquid import Liquid
from tests.simulator.month import Month, Row
from tests.simulator.year.calendar import START, hour_of, is_silent
from tests.simulator.year.house import NEUTRAL
from tests.simulator.year.troubles import Troubles

COLUMNS = {
    "receipts_under_bond": [
        *("receipt", "received_at", "consignor", "consignor_address", "document", "lot", "spirit", "seals"),
        *("consignor_litres", "consignor_percent", "tank"),
        *(
            f"tank_{when}_{what}"
            for when in ("before", "after")
            for what in ("dip_mm", "celsius", "hydrometer_percent")
        ),
        *("certificate", "distilled_percent", "origin", "base_material", "methanol_g_per_hl"),
        *("reported_at", "report_reference", "difference_reason"),
    ]
}
MONTHS = ((2026, 5), (2026, 6), (2026, 8), (2026, 10), (2026, 11), (2027, 1), (2027, 2))
LITRES = 1000.0


class Deliveries:
    """A lorry about every seven weeks, where there is room for it."""

    def __init__(self, year: Month, rng: np.random.Generator, troubles: Troubles) -> None:
        self.year, self.rng, self.troubles = year, rng, troubles

    def plan(self) -> None:
        for place, (year, month) in enumerate(MONTHS, start=1):
            day = datetime(year, month, int(self.rng.integers(5, 24)), 11, int(self.rng.integers(60)))
            while day.weekday() > 4 or is_silent(hour_of(day)):
                day += timedelta(days=1)
            self.year.at(hour_of(day), self.receive, place)

    def receive(self, place: int) -> None:
        year, tank = self.year, self.year.vessel(NEUTRAL)
        if year.must_wait((tank.code,), self.receive, place):
            return
        sent = Liquid.of_litres(LITRES * float(self.rng.uniform(0.96, 1.0)), float(self.rng.uniform(96.2, 96.5)))
        if not tank.room_for(sent.litres()):
            year.after(24.0, self.receive, place)
            return
        record, n = year.number("RB")
        row: Row = {"receipt": record, "received_at": year.stamp(year.now), "tank": tank.code}
        year.rows["receipts_under_bond"].append(row)
        year.gauge(tank, "receipts_under_bond", row, "tank_before", record, "receipt under bond", n)
        missing = self.troubles.missing_of(place, record)
        arrived = sent.share((1.0 - missing) * float(self.rng.normal(0.9992, 0.0004)))
        tank.contents = tank.contents + arrived
        year.come("under bond", arrived)
        year.gauge(tank, "receipts_under_bond", row, "tank_after", record, "receipt under bond", n)
        year.hold(year.now + 0.5, tank.code)
        at = START + timedelta(hours=year.now)
        row |= {
            "consignor": "Holm Spirit Works",
            "consignor_address": "Refinery Road, Holm",
            "document": f"26GBHOLM{52000 + 611 * n}",
            "lot": f"NS-{310 + 9 * n}",
            "spirit": "neutral spirit",
            "seals": "intact",
            "consignor_litres": round(sent.litres(), 1),
            "consignor_percent": round(sent.percent, 2),
            "certificate": f"HS{1200 + 7 * n}",
            "distilled_percent": 96.4,
            "origin": "agricultural",
            "base_material": "wheat",
            "methanol_g_per_hl": round(float(self.rng.uniform(0.6, 3.0)), 2),
            "reported_at": (at + timedelta(hours=2.5)).strftime("%Y-%m-%dT%H:%M"),
            "report_reference": f"RR{8000 + 29 * n}",
            "difference_reason": "not known; the consignor is asked" if missing else None,
        }
        year.done("receipt_under_bond", n, record, sent=sent.alcohol, arrived=arrived.alcohol)
