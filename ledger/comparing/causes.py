"""Which one reading would explain a difference that was found again at the vessel's next gauge.

A wrong closing reading shows twice: missing at its operation, found at the next gauge. The next gauge also
tells which reading it was. If the strength there is the strength written, the volume was wrong and so the
dip; if not, the hydrometer was. Each suggestion is worked out through the gauge's own figures and says what
it would leave unexplained. Nothing is changed by it.
"""

from __future__ import annotations

import json
from dataclasses import dataclass

from distillery.alcoholometry.errors import AlcoholometryError
from distillery.alcoholometry.reading import true_percent
from distillery.plant.calibration import DipOutsideTable, NoCalibration, table_of
from distillery.plant.models import MICRO
from ledger.models import Gauge

# % vol by which two gauges of one liquid may differ through reading alone: two readings of 0.1 each way
# and two temperatures of 0.1 C; common practice, no source.
SAME_STRENGTH_PERCENT = 0.5


@dataclass(frozen=True, slots=True)
class Likely:
    """One reading, what stands written, what it would have to be, and what that would leave (LPA)."""

    cause: str
    record: str
    field: str
    written: str
    would_be: str
    leaves_lpa: float


def likely_reading(wrong: Gauge, following: Gauge, *, record: str, left_ul: int) -> list[Likely]:
    """The reading of `wrong` that would make it agree with the gauge that followed, best first."""
    strength_gap = (following.percent20_millionths - wrong.percent20_millionths) / MICRO
    dip, hydrometer = _dip(wrong, following, record), _hydrometer(wrong, following, record)
    ranked = [dip] if abs(strength_gap) <= SAME_STRENGTH_PERCENT else [hydrometer, dip]
    return [
        Likely(one.cause, one.record, one.field, one.written, one.would_be, round(left_ul / MICRO, 2))
        for one in ranked
        if one is not None and one.would_be != one.written
    ]


def _raw(gauge: Gauge) -> dict[str, str]:
    raw: dict[str, str] = json.loads(gauge.raw)
    return raw


def _part(gauge: Gauge, part: str) -> tuple[str, str] | None:
    """Column and typed value of one reading of a gauge."""
    for column, typed in _raw(gauge).items():
        if typed and (column == part or column.endswith(f"_{part}")):
            return column, typed
    return None


def _dip(wrong: Gauge, following: Gauge, record: str) -> Likely | None:
    reading = _part(wrong, "dip_mm")
    vessel = wrong.account.vessel
    if reading is None or vessel is None or not wrong.litres20_ul:
        return None
    column, typed = reading
    try:
        dipped = table_of(vessel).litres(dip_mm=float(typed.replace(",", ".")))
    except (DipOutsideTable, NoCalibration, ValueError):
        return None
    if not dipped.litres_per_mm:
        return None
    at_temperature = (following.litres20_ul - wrong.litres20_ul) / wrong.litres20_ul * dipped.litres
    would_be = float(typed.replace(",", ".")) + at_temperature / dipped.litres_per_mm
    return Likely("dip misread or miswritten", record, column, typed, f"{would_be:.0f}", 0.0)


def _hydrometer(wrong: Gauge, following: Gauge, record: str) -> Likely | None:
    reading, temperature = _part(wrong, "hydrometer_percent"), _part(wrong, "celsius")
    if reading is None or temperature is None:
        return None
    column, typed = reading
    written, celsius = float(typed.replace(",", ".")), float(temperature[1].replace(",", "."))
    wanted = following.percent20_millionths / MICRO
    low, high = 0.0, 100.0
    for _ in range(60):
        middle = (low + high) / 2
        try:
            too_low = true_percent(reading_percent=middle, celsius=celsius) < wanted
        except AlcoholometryError:
            too_low = middle < written
        low, high = (middle, high) if too_low else (low, middle)
    return Likely("hydrometer misread or miswritten", record, column, typed, f"{low:.1f}", 0.0)
