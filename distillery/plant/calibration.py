"""Turns a dip into litres through a vessel's own table, linear between its lines.

A dip outside the table is refused with the table's range, never read off past its end.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from itertools import groupby

from distillery.plant.models import MICRO, CalibrationPoint

UM_PER_MM = 1000


class DipOutsideTable(ValueError):
    """The dip is not within the vessel's calibration table."""


class NoCalibration(ValueError):
    """The vessel has no calibration table, so a dip cannot be turned into litres."""


@dataclass(frozen=True, slots=True)
class Dipped:
    """Litres at the liquid's own temperature, and how many litres a millimetre is worth there."""

    litres: float
    litres_per_mm: float


@dataclass(frozen=True, slots=True)
class CalibrationTable:
    """One vessel's table: dips in micrometres and volumes in microlitres, both rising."""

    vessel: str
    dips_um: tuple[int, ...]
    volumes_ul: tuple[int, ...]

    def litres(self, *, dip_mm: float) -> Dipped:
        """Volume under a dip in millimetres. Raises NoCalibration or DipOutsideTable with the range."""
        if not self.dips_um:
            raise NoCalibration(f"{self.vessel} has no calibration table; enter one before dipping it.")
        dip_um = dip_mm * UM_PER_MM
        lowest, highest = self.dips_um[0], self.dips_um[-1]
        if not lowest <= dip_um <= highest:
            raise DipOutsideTable(
                f"A dip of {dip_mm:g} mm is outside the table of {self.vessel}, "
                f"which runs from {lowest / UM_PER_MM:g} to {highest / UM_PER_MM:g} mm."
            )
        if len(self.dips_um) == 1:
            return Dipped(self.volumes_ul[0] / MICRO, 0.0)
        above = min(bisect_right(self.dips_um, dip_um), len(self.dips_um) - 1)
        below = above - 1
        slope = (self.volumes_ul[above] - self.volumes_ul[below]) / (self.dips_um[above] - self.dips_um[below])
        volume_ul = self.volumes_ul[below] + slope * (dip_um - self.dips_um[below])
        return Dipped(volume_ul / MICRO, slope * UM_PER_MM / MICRO)


def all_tables() -> dict[int, CalibrationTable]:
    """The tables of all vessels that have one, by the vessel's key, read in one query."""
    points = CalibrationPoint.objects.order_by("vessel", "dip_um")
    rows = points.values_list("vessel_id", "vessel__code", "dip_um", "volume_ul")
    tables: dict[int, CalibrationTable] = {}
    for (pk, code), own in groupby(rows, key=lambda row: row[:2]):
        lines = [row[2:] for row in own]
        tables[pk] = CalibrationTable(code, tuple(dip for dip, _ in lines), tuple(volume for _, volume in lines))
    return tables
