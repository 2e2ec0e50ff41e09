"""The plant as a gauge needs it: vessels, their tables, gravity factors, and what a vessel is gauged with on a day.

One is made for each request or load and keeps what it has looked up, so that a month of gauges asks for the tables
once. It only reads, and only what it is asked for: a site has a few dozen fixed vessels, which are read together, and
any number of casks, which are read by their numbers.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime
from typing import Final, Literal

from django.db.models import Q, QuerySet
from django.db.models.functions import Upper

from distillery.alcoholometry.gravity import GravityTable
from distillery.database.fixed_sql import ask
from distillery.plant.calibration import CalibrationTable, all_tables
from distillery.plant.models import Kind, Vessel
from distillery.plant.outfit import Outfit, Register
from distillery.rules.in_force import gravity_table
from distillery.typed.spellings import in_any_case, spellings

# Every kind of vessel but the casks. Named one by one, so that an index leads to them.
FIXED = tuple(kind.value for kind in Kind if kind != Kind.CASK)
# Codes asked for in one query.
AT_ONCE = 200
# From each value to the next above it; a DISTINCT would pass by every cask.
_VALUES_OF_CASKS: Final = """
WITH RECURSIVE step(found) AS (
    SELECT MIN({column}) FROM plant_cask WHERE {column} > ''
    UNION ALL
    SELECT (SELECT MIN({column}) FROM plant_cask WHERE {column} > step.found) FROM step WHERE step.found IS NOT NULL
)
SELECT found FROM step WHERE found IS NOT NULL
"""


class Plant:
    """The plant as it stands, looked up at most once for each thing."""

    def __init__(self) -> None:
        self._fixed: dict[str, Vessel] | None = None
        self._casks: dict[str, Vessel] = {}
        self._tables: dict[int, CalibrationTable] | None = None
        self._register: Register | None = None
        self._outfits: dict[tuple[date, int | None, int | None], Outfit] = {}

    # -- vessels

    def vessel(self, code: str) -> Vessel | None:
        """The vessel of a code, small and capital letters alike; None where there is none."""
        self.look_up([code])
        key = code.strip().casefold()
        return self._all_fixed().get(key) or self._casks.get(key)

    def vessel_meant(self, typed: str) -> Vessel | None:
        """The vessel of a code, else the only one whose number is this but for its noughts: 2022/7 is 2022/0007."""
        found = self.vessel(typed)
        if found is not None or "\x00" in typed:
            return found
        meant = {one.pk: one for one in _with_casks().filter(code__in=spellings(typed.strip()))[:2]}
        return next(iter(meant.values())) if len(meant) == 1 else None

    def look_up(self, codes: Iterable[str]) -> None:
        """Reads the casks of these numbers that are not known yet, together."""
        fixed = self._all_fixed()
        wanted = {code.strip() for code in codes if "\x00" not in code}
        casks = self._casks
        missing = sorted(one for one in wanted if one and (key := one.casefold()) not in casks and key not in fixed)
        for first in range(0, len(missing), AT_ONCE):
            some = missing[first : first + AT_ONCE]
            spelt = {spelling for one in some for spelling in in_any_case(one)}
            # In capitals as the database writes them, for letters of both sizes mixed.
            mixed = Q(capitals__in=[one.upper() for one in some])
            found = _with_casks().alias(capitals=Upper("code")).filter(Q(code__in=spelt) | mixed)
            self._casks |= {vessel.code.casefold(): vessel for vessel in found}

    def vessels(
        self, *, kinds: Iterable[str] = (), stages: Iterable[str] = (), purposes: Iterable[str] = ()
    ) -> list[Vessel]:
        """Vessels of these kinds, stages and purposes, each empty for any, in the site's order; never casks, which are
        asked for by number."""
        return [
            vessel
            for vessel in self._all_fixed().values()
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

    def _all_fixed(self) -> dict[str, Vessel]:
        if self._fixed is None:
            fixed = Vessel.objects.filter(kind__in=FIXED)
            self._fixed = {vessel.code.casefold(): vessel for vessel in fixed}
        return self._fixed


def values_of_casks(field: Literal["warehouse", "kind"]) -> list[tuple[str, str]]:
    """What stands in a field of any cask, to choose from, blank left out: one question, which goes one step along the
    index of the field for each value there is.
    """
    return [(value, value) for (value,) in ask(_VALUES_OF_CASKS.format(column=field))]


def _with_casks() -> QuerySet[Vessel]:
    return Vessel.objects.select_related("cask")
