"""The plant as a gauge needs it: vessels, their tables and corrections, instruments, gravity factors.

One is made for each request or load and keeps what it has looked up, so that a month of gauges asks for each
vessel's table once. It only reads.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from distillery.alcoholometry.chain import Corrections, InstrumentNames, InstrumentUncertainty
from distillery.alcoholometry.gravity import GravityTable
from distillery.alcoholometry.reading import Alcoholometer
from distillery.alcoholometry.volume import Shell
from distillery.plant.calibration import CalibrationTable, table_of
from distillery.plant.models import Instrument, Vessel
from distillery.rules.reading import gravity_table

MILLI = 1000
BILLION = 1_000_000_000

# What each instrument of the plant measures: the reading whose uncertainty it stands for, and its name in a chain.
MEASURES = {
    "dip": ("dip_mm", "dip"),
    "temperature": ("celsius", "thermometer"),
    "strength": ("percent", "alcoholometer"),
    "gravity": ("gravity", "saccharometer"),
    "cask weight": ("kilograms", "scale"),
}


class Plant:
    """The plant as it stands, looked up at most once for each thing."""

    def __init__(self) -> None:
        self._vessels: dict[str, Vessel] | None = None
        self._tables: dict[int, CalibrationTable] = {}
        self._instruments: dict[str, Instrument] | None = None
        self._uncertainty: InstrumentUncertainty | None = None
        self._names: InstrumentNames | None = None
        self._alcoholometer: Alcoholometer | None = None

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
        """The calibration table of a vessel."""
        if vessel.pk not in self._tables:
            self._tables[vessel.pk] = table_of(vessel)
        return self._tables[vessel.pk]

    def corrections(self, vessel: Vessel) -> Corrections:
        """The swelling of the vessel's shell, where the temperature of its calibration is on record."""
        if vessel.calibration_millicelsius is None or vessel.shell_expansion_per_celsius_billionths is None:
            return Corrections()
        return Corrections(
            shell=Shell(
                calibration_celsius=vessel.calibration_millicelsius / MILLI,
                expansion_per_celsius=vessel.shell_expansion_per_celsius_billionths / BILLION,
            )
        )

    # -- instruments and dated tables

    @property
    def uncertainty(self) -> InstrumentUncertainty:
        """Standard uncertainties of the site's instruments; where none is entered, those the gauge comes with."""
        if self._uncertainty is None:
            self._uncertainty = InstrumentUncertainty(**{
                MEASURES[measures][0]: instrument.standard_uncertainty
                for measures, instrument in self._by_measure().items()
                if measures in MEASURES
            })  # fmt: skip
        return self._uncertainty

    @property
    def names(self) -> InstrumentNames:
        """By which code each instrument is known."""
        if self._names is None:
            self._names = InstrumentNames(**{
                MEASURES[measures][1]: instrument.code
                for measures, instrument in self._by_measure().items()
                if measures in MEASURES
            })  # fmt: skip
        return self._names

    @property
    def alcoholometer(self) -> Alcoholometer:
        """The hydrometer strengths are read with."""
        if self._alcoholometer is None:
            instrument = self._by_measure().get("strength")
            self._alcoholometer = (
                Alcoholometer(reference_celsius=20.0)
                if instrument is None or instrument.reference_millicelsius is None
                else Alcoholometer(
                    reference_celsius=instrument.reference_millicelsius / MILLI,
                    glass_per_celsius=instrument.glass_expansion_per_celsius_billionths / BILLION,
                )
            )
        return self._alcoholometer

    def gravities(self, day: date) -> GravityTable:
        """The table of gravity factors in force on a day. Raises NoRuleInForce."""
        return gravity_table(day)

    def _all(self) -> dict[str, Vessel]:
        if self._vessels is None:
            self._vessels = {
                vessel.code.casefold(): vessel for vessel in Vessel.objects.select_related("cask").all()
            }
        return self._vessels

    def _by_measure(self) -> dict[str, Instrument]:
        if self._instruments is None:
            self._instruments = {}
            for instrument in Instrument.objects.order_by("code"):
                self._instruments.setdefault(instrument.measures, instrument)
        return self._instruments
