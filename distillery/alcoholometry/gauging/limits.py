"""Limits of error by class of instrument, for an instrument that has no certificate of its own.

Alcoholometers and thermometers by scale division, class III scales by load; the figures are data with their sources
in ``tables/limits_of_error.csv``. A limit says no more than plus or minus, so it counts as rectangular (JCGM 100:2008,
4.3.7).
"""

import csv
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from distillery.alcoholometry.errors import OutsideTable, require_finite, require_not_negative
from distillery.alcoholometry.uncertainty import rectangular

ALCOHOLOMETER = "alcoholometer"
THERMOMETER = "thermometer"
SCALE_CLASS_III = "scale class III"
IN_SERVICE = 2.0


@dataclass(frozen=True, slots=True)
class Limit:
    """One line of the table: from ``start`` to ``end`` of the division or load, the limit of error is ±``limit``."""

    instrument: str
    start: float
    end: float
    limit: float
    unit: str
    source: str


@cache
def limits_of_error() -> tuple[Limit, ...]:
    """The table that ships with the program."""
    text = (files("distillery.alcoholometry") / "tables" / "limits_of_error.csv").read_text(encoding="utf-8")
    rows = csv.DictReader(line for line in text.splitlines() if not line.startswith("#"))
    return tuple(
        Limit(row["instrument"], float(row["from"]), float(row["to"]), float(row["limit"]), row["unit"], row["source"])
        for row in rows
    )


def limit_by_division(*, instrument: str, division: float) -> Limit:
    """Limit of error of an alcoholometer or thermometer by its scale division; raises OutsideTable."""
    return _find(instrument, require_finite(division, "Scale division"), f"a division of {division:g}")


def scale_limit_kilograms(*, load_kg: float, interval_kg: float, in_service: bool = True) -> float:
    """Limit of error, ± kg, of a class III scale with verification interval ``interval_kg`` at a load.

    In service it is twice that at verification. Raises OutsideTable above 10 000 intervals, NegativeQuantity.
    """
    if require_not_negative(interval_kg, "Scale interval") == 0:
        raise OutsideTable("A scale interval of 0 kg is impossible: read e off the scale's plate.")
    loads = require_not_negative(load_kg, "Load") / interval_kg
    row = _find(SCALE_CLASS_III, loads, f"a load of {loads:g} intervals")
    return row.limit * interval_kg * (IN_SERVICE if in_service else 1.0)


def scale_standard_uncertainty_kg(*, load_kg: float, interval_kg: float, in_service: bool = True) -> float:
    """Standard uncertainty in kg of one weighing on a class III scale; refusals as scale_limit_kilograms."""
    return rectangular(scale_limit_kilograms(load_kg=load_kg, interval_kg=interval_kg, in_service=in_service))


def _find(instrument: str, value: float, what: str) -> Limit:
    for row in limits_of_error():
        if row.instrument == instrument and row.start <= value <= row.end:
            return row
    raise OutsideTable(
        f"No limit of error is on record for {what} of {instrument!r}: use the instrument's certificate."
    )
