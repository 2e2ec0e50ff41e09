"""The plant as a gauge needs it: vessels, their tables, gravity factors, and what a vessel is gauged with on a day.

One is made for each request or load and keeps what it has looked up, so that a month of gauges asks for the tables
once. It only reads.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime

from distillery.alcoholometry.gravity import GravityTable
from distillery.plant.calibration import CalibrationTable, all_tables
from distillery.plant.models import Vessel
from distillery.plant.outfit import Outfit, Register
from distillery.rules.in_force import gravity_table


class Plant:
    """The plant as it stands, looked up at most once for each thing."""

    def __init__(self) -> None:
        self._vessels: dict[str, Vessel] | None = None
        self._tables: dict[int, CalibrationTable] | None = None
        self._register: Register | None = None
        self._outfits: dict[tuple[date, int | None, int | None], Outfit] = {}

    # -- vessels

    def vessel(self, code: str) -> Vessel | None:
        """The vessel of a code, small and capital letters alike; None where there is none."""
        return self._all().get(code.strip().casefold())

    def vessels(
        self, *, kinds: Iterable[str] = (), stages: Iterable[str] = (), purposes: Iterable[str] = ()
    ) -> list[Vessel]:
        """Vessels of these kinds, stages and purposes, each empty for any, in the site's order."""
        return [
            vessel
            for vessel in self._all().values()
            if (not kinds or vessel.kind in kinds)
            and (not stages or vessel.stage in stages)
            and (not purposes or vessel.purpose in purposes)
        ]

    def table(self, vessel: Vessel) -> CalibrationTable:
        """The calibration table of a vessel; one without lines refuses every dip. All are read at once."""
        if self._tables is None:
            self._tables = all_tables()
        return self._tables.get(vessel.pk) or CalibrationTable(vessel.code, (), ())

    # -- instruments and dated tables

    @property
    def register(self) -> Register:
        """The site's instruments with their periods of use and certificates."""
        if self._register is None:
            self._register = Register.read()
        return self._register

    def outfit(self, day: date, *, vessel: Vessel | None = None, at: datetime | None = None) -> Outfit:
        """What is gauged with on a day, at one vessel or anywhere: instruments, certificates, uncertainties.

        `at` is the moment from which what solids hide in the vessel counts; without it nothing is taken as hidden.
        """
        hidden = self.register.obscuration(vessel, at) if vessel and at else None
        key = (day, vessel.pk if vessel else None, hidden.pk if hidden else None)
        if key not in self._outfits:
            self._outfits[key] = self.register.outfit(day, vessel=vessel, hidden=hidden)
        return self._outfits[key]

    def gravities(self, day: date) -> GravityTable:
        """The table of gravity factors in force on a day. Raises NoRuleInForce."""
        return gravity_table(day)

    def _all(self) -> dict[str, Vessel]:
        if self._vessels is None:
            self._vessels = {vessel.code.casefold(): vessel for vessel in Vessel.objects.select_related("cask").all()}
        return self._vessels
