"""Distillation periods: on the first of each month one ends and the next is opened, each with a gauge of the feints."""

from tests.simulator.month import Month, Row
from tests.simulator.year.calendar import first_days

COLUMNS = {
    "distillation_periods": [
        *("period", "spirit_class", "opened_at", "feints_receiver"),
        *("feints_open_dip_mm", "feints_open_celsius", "feints_open_hydrometer_percent"),
        "ended_at",
        *("feints_close_dip_mm", "feints_close_celsius", "feints_close_hydrometer_percent"),
    ]
}


class Periods:
    """Ends a period as soon as neither pot still is charged."""

    def __init__(self, year: Month) -> None:
        self.year = year
        self.open: tuple[Row, int] | None = None

    def plan(self) -> None:
        self.year.at(0.2, self.begin)
        for hours in first_days():
            self.year.at(hours + 0.1, self.end)

    @property
    def _stills(self) -> tuple[str, ...]:
        plant = self.year.plant
        return (*plant.wash_stills, *plant.spirit_stills, plant.feints)

    def begin(self) -> None:
        year = self.year
        record, n = year.number("DP")
        row: Row = {
            "period": record,
            "spirit_class": "malt spirit",
            "opened_at": year.stamp(year.now),
            "feints_receiver": year.plant.feints,
        }
        year.rows["distillation_periods"].append(row)
        feints = year.vessel(year.plant.feints)
        year.gauge(feints, "distillation_periods", row, "feints_open", record, "distillation period", n)
        self.open = row, n

    def end(self) -> None:
        year = self.year
        if year.must_wait(self._stills, self.end) or self.open is None:
            return
        row, n = self.open
        feints = year.vessel(year.plant.feints)
        row["ended_at"] = year.stamp(year.now)
        year.gauge(feints, "distillation_periods", row, "feints_close", row["period"], "distillation period", n)
        # Held a little, so that nothing is charged between the two gauges.
        year.hold(year.now + 0.3, *self._stills)
        year.after(0.1, self.begin)
