"""Worked windows for the tests of the balance statistics: the published network, two vessels, an invented month.

Check values come from tests/data/balance, where each has its source. The months are invented.
"""

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
from hypothesis import settings
from msgspec import structs

from ledger.comparing.statistics.algebra.problem import (
    Column,
    FaultKind,
    Hypothesis,
    Instrument,
    Problem,
    Reading,
    Row,
    RowKind,
    UsualLoss,
)
from ledger.comparing.statistics.faults.signatures import (
    combined,
    lasting_losses,
    losses,
    unwritten_movement,
)

# Matrix work on a busy machine: a property's time says nothing.
unhurried = settings(deadline=None)

DATA = Path(__file__).resolve().parents[2] / "data" / "balance"


def closing_gauge(
    lpa_slope: float,
    *,
    operation: str | None,
    next_continuity: str | None,
    strength_slope: float = 0.0,
    next_strength: str | None = None,
) -> Column:
    """A reading of a gauge after an operation, in the vessel that gave or the vessel that received.

    More alcohol found afterwards means less missing in the operation, and less found at the next gauge.
    """
    return _column(
        (operation, -lpa_slope),
        (next_continuity, -lpa_slope),
        (next_strength, -strength_slope),
    )


def opening_gauge(
    lpa_slope: float,
    *,
    operation: str | None,
    continuity: str | None,
    strength_slope: float = 0.0,
    strength: str | None = None,
) -> Column:
    """A reading of a gauge before an operation, in the vessel that gives or the vessel that receives."""
    return _column((operation, lpa_slope), (continuity, lpa_slope), (strength, strength_slope))


def _column(*entries: tuple[str | None, float]) -> Column:
    total: dict[str, float] = {}
    for row, sensitivity in entries:
        if row is not None and sensitivity:
            total[row] = total.get(row, 0.0) + sensitivity
    return total


def statistics_checks() -> dict[str, Any]:
    entries = json.loads((DATA / "statistics-checks.json").read_text(encoding="utf-8"))
    return {entry["id"]: entry for entry in entries}


def charts_checks() -> dict[str, Any]:
    checks: dict[str, Any] = json.loads((DATA / "charts-checks.json").read_text(encoding="utf-8"))
    return checks


def bypass_problem(flows: list[float]) -> Problem:
    """The exchanger with its bypass as a window: each flow a reading, each balance a row."""
    inputs = statistics_checks()["bypass-bias"]["inputs"]
    balances, nodes = np.array(inputs["A"], dtype=float), inputs["nodes"]
    residual = balances @ np.array(flows)
    rows = [Row(f"at {node}", RowKind.OPERATION, place, float(residual[place])) for place, node in enumerate(nodes)]
    readings = [
        Reading(
            f"bias stream {stream + 1}",
            f"flow {stream + 1}",
            variance**0.5,
            {f"at {node}": balances[place, stream] for place, node in enumerate(nodes) if balances[place, stream]},
        )
        for stream, variance in enumerate(inputs["variances"])
    ]
    leaks = [Hypothesis(f"leak at {node}", node, FaultKind.LOSS, ({f"at {node}": 1.0},)) for node in nodes]
    return Problem(rows, readings, hypotheses=leaks)


def two_vessels(*, strength_rows: bool, changes: Mapping[str, float] | None = None) -> Problem:
    """Two runs from charge vessel A to receiver B, the closing dip B2 written 100 mm short; `changes` in LPA."""
    inputs = statistics_checks()["two-vessels-alcohol-only"]["inputs"]
    lpa = {gauge: value + (changes or {}).get(gauge, 0.0) for gauge, value in inputs["gauges_lpa_written"].items()}
    strength, usual = inputs["strength_at_20"], inputs["usual_loss"]
    rows: list[Row] = []

    def gap(last: str, now: str, time: float) -> None:
        name = f"gap {last}>{now}"
        rows.append(Row(name, RowKind.CONTINUITY, time, lpa[now] - lpa[last]))
        if strength_rows:
            rows.append(Row(f"strength {name}", RowKind.STRENGTH, time, strength[now] - strength[last]))

    charges: dict[str, float] = {}
    for run, (opening, closing, first, then, last_open, last_first) in enumerate(
        (("A1", "A2", "B1", "B2", "A0", "B0"), ("A3", "A4", "B3", "B4", "A2", "B2")), start=1
    ):
        gap(last_open, opening, 2.0 * run)
        gap(last_first, first, 2.0 * run)
        charged = lpa[opening] - lpa[closing]
        charges[f"difference run {run}"] = charged
        known = inputs["feints_lpa"][f"run{run}"] + inputs["lees_lpa"] + usual["mean_share"] * charged
        rows.append(
            Row(
                f"difference run {run}",
                RowKind.OPERATION,
                2.0 * run + 1.0,
                charged - (lpa[then] - lpa[first]) - known,
                usual["spread_share"] * charged,
                f"loss in run {run}",
            )
        )
    readings = _two_vessel_readings(inputs, strength_rows)
    faults = [structs.replace(one, key=one.label) for one in losses(rows)]
    # The check values are those of one column: spirit of the receiver's own strength, so no strength row moves.
    faults.append(unwritten_movement("unwritten movement into B between the runs", "movement", got=["gap B2>B3"]))
    doubt = UsualLoss("runs", "runs", usual["doubt_of_mean_share"], charges)
    return Problem(rows, readings, [doubt], (), faults)


def _two_vessel_readings(inputs: Mapping[str, Any], strength_rows: bool) -> list[Reading]:
    kinds = {
        "dip": ("lpa_per_mm", None, "dip_mm"),
        "celsius": ("lpa_per_celsius", "percent_per_celsius", "celsius"),
        "hydrometer": ("lpa_per_percent", "percent_per_percent", "hydrometer_percent"),
    }
    gaps = {"0": "{0}0>{0}1", "1": "{0}0>{0}1", "2": "{0}2>{0}3", "3": "{0}2>{0}3", "4": None}
    runs = {"0": None, "1": 1, "2": 1, "3": 2, "4": 2}
    readings = []
    for gauge, slopes in inputs["slopes"].items():
        vessel, number = gauge
        pair = gaps[number]
        gap = None if pair is None else "gap " + pair.format(vessel)
        strength = f"strength {gap}" if gap and strength_rows else None
        run = f"difference run {runs[number]}" if runs[number] else None
        for kind, (per_lpa, per_strength, u) in kinds.items():
            slope, tilt = slopes[per_lpa], slopes[per_strength] if per_strength else 0.0
            if number in "024":
                column = closing_gauge(
                    slope, operation=run, next_continuity=gap, strength_slope=tilt, next_strength=strength
                )
            else:
                column = opening_gauge(slope, operation=run, continuity=gap, strength_slope=tilt, strength=strength)
            readings.append(Reading(f"{gauge} {kind}", gauge, inputs["standard_uncertainty"][u], column))
    for run_number in (1, 2):
        for what in ("feints", "lees"):
            column = {f"difference run {run_number}": -1.0}
            u = inputs["standard_uncertainty"][f"{what}_lpa"]
            readings.append(Reading(f"run {run_number} {what}", what, u, column))
    return readings


def invented_month(
    *, runs: int = 20, fills: int = 4, casks: int = 40, seed: int | None = 7, lasting_from: int | None = None
) -> Problem:
    """A month of two kinds of run, each with a charge vessel and a receiver, and fills of casks with their likeness.

    `seed` draws the readings' errors (None: every row exactly 0). From run `lasting_from` of the spirit still
    on, 0.9 % of each charge is lost.
    """
    draw = np.random.default_rng(seed)
    error = (lambda: float(draw.standard_normal())) if seed is not None else (lambda: 0.0)
    builder = _Month(error)
    for family, charge in (("wash", 825.0), ("spirit", 1245.0)):
        builder.add_runs(family, charge, runs, lasting_from if family == "spirit" else None)
    for fill in range(fills):
        builder.add_fill(fill, casks)
    return builder.problem()


class _Month:
    """Rows and readings of an invented month; residuals are the readings' errors carried through the columns."""

    def __init__(self, error: Any) -> None:
        self._error = error
        self._rows: dict[str, Row] = {}
        self._readings: list[Reading] = []
        self._usual: list[UsualLoss] = []
        self._faults: list[Hypothesis] = []
        self._instruments: list[Instrument] = []

    def add_runs(self, family: str, charge: float, runs: int, lasting_from: int | None) -> None:
        charges: dict[str, float] = {}
        usual = 0.002 * self._error()
        hydrometer: list[str] = []
        slopes = {
            "charge": {"dip": (1.08, 0.0, 0.85), "celsius": (-18.0, -0.38, 0.08), "hydrometer": (48.0, 1.01, 0.06)},
            "receiver": {"dip": (1.95, 0.0, 0.85), "celsius": (-6.0, -0.32, 0.08), "hydrometer": (15.0, 0.99, 0.06)},
        }
        for run in range(runs):
            operation, time = f"{family} run {run}", 10.0 * run + (5.0 if family == "spirit" else 0.0)
            lost = 0.009 * charge if lasting_from is not None and run >= lasting_from else 0.0
            spread = 0.0015 * charge
            self._rows[operation] = Row(
                operation,
                RowKind.OPERATION,
                time + 2.0,
                lost + usual * charge + spread * self._error(),
                spread,
                operation,
            )
            charges[operation] = charge
            for vessel, of_vessel in slopes.items():
                gap, strength = f"{family} {vessel} gap {run}", f"{family} {vessel} strength {run}"
                following = f"{family} {vessel} gap {run + 1}" if run + 1 < runs else None
                next_strength = f"{family} {vessel} strength {run + 1}" if run + 1 < runs else None
                self._rows[gap] = Row(gap, RowKind.CONTINUITY, time, 0.0, 0.5)
                self._rows[strength] = Row(strength, RowKind.STRENGTH, time, 0.0, 0.02)
                if run:
                    self._faults.append(unwritten_movement(f"movement {gap}", gap, got=[gap], free_rows=[strength]))
                for kind, (slope, tilt, u) in of_vessel.items():
                    opening = opening_gauge(
                        slope, operation=operation, continuity=gap, strength_slope=tilt, strength=strength
                    )
                    closing = closing_gauge(
                        slope,
                        operation=operation,
                        next_continuity=following,
                        strength_slope=tilt,
                        next_strength=next_strength,
                    )
                    for name, column in (("before", opening), ("after", closing)):
                        key = f"{operation} {vessel} {name} {kind}"
                        self._readings.append(Reading(key, key, u, column))
                        if kind == "hydrometer":
                            hydrometer.append(key)
            for name, u in (("feints", 1.5), ("lees", 0.3)):
                key = f"{operation} {name}"
                self._readings.append(Reading(key, key, u, {operation: -1.0}))
        self._usual.append(UsualLoss(family, family, 0.002, charges))
        self._faults += lasting_losses(family, family, charges)
        self._instruments.append(Instrument(f"{family} hydrometer", "hydrometer", 0.05, tuple(hydrometer)))

    def add_fill(self, fill: int, casks: int) -> None:
        time, operation = 300.0 + fill, f"fill {fill}"
        self._rows[operation] = Row(operation, RowKind.OPERATION, time, self._error(), 1.0, operation)
        vat = f"{operation} vat dip"
        self._readings.append(Reading(vat, vat, 0.8, {operation: 4.0}))
        for cask in range(casks):
            name = f"fill {fill} cask {cask}"
            litres, tare = f"{name} litres", f"{name} tare likeness"
            self._rows[litres] = Row(litres, RowKind.LIKENESS, time, 3.0 * self._error(), 3.0)
            self._rows[tare] = Row(tare, RowKind.LIKENESS, time, 2.0 * self._error(), 2.0)
            gross = {operation: -0.7, litres: 1.1}
            self._readings.append(Reading(f"{name} gross", name, 0.2, gross))
            self._readings.append(
                Reading(f"{name} tare", name, 0.2, combined({operation: 0.7, litres: -1.1}, {tare: 1.0}))
            )

    def problem(self) -> Problem:
        moved = dict.fromkeys(self._rows, 0.0)
        for reading in self._readings:
            error = reading.standard_uncertainty * self._error()
            for row, sensitivity in reading.column.items():
                moved[row] += sensitivity * error
        by_key = {reading.key: reading.column for reading in self._readings}
        for instrument in self._instruments:
            error = instrument.standard_uncertainty * self._error()
            for key in instrument.readings:
                for row, sensitivity in by_key[key].items():
                    moved[row] += sensitivity * error
        rows = [
            structs.replace(
                row,
                residual=row.residual
                + moved[row.key]
                + (row.spread * self._error() if row.kind in (RowKind.CONTINUITY, RowKind.STRENGTH) else 0.0),
            )
            for row in self._rows.values()
        ]
        faults = [*losses(rows), *self._faults]
        return Problem(rows, self._readings, self._usual, self._instruments, faults)
