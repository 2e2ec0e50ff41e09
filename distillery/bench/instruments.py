"""The site's instruments as the bench needs them: which hydrometers there are, and how sure each reading is.

An instrument of the plant whose reference temperature is not on record is offered all the same, so that choosing it
says what is wrong; plain glass of 20 °C, 15 °C and 60 °F is offered beside it. Uncertainties are standard ones.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from distillery.alcoholometry.chain import Corrections, InstrumentNames, InstrumentUncertainty
from distillery.alcoholometry.gravity import GravityTable, hmrc_gravity_table
from distillery.alcoholometry.reading import SIXTY_FAHRENHEIT, Alcoholometer
from distillery.alcoholometry.volume import Shell
from distillery.plant.models import Instrument, Vessel
from distillery.rules.reading import NoRuleInForce, gravity_table

MILLI = 1000
BILLION = 1_000_000_000
STRENGTH = "strength"
GRAVITY = "gravity"

# What an instrument measures, as the plant has it, and the reading it is for.
READINGS = {
    "dip": "dip_mm",
    "temperature": "celsius",
    STRENGTH: "percent",
    GRAVITY: "gravity",
    "cask weight": "kilograms",
}
NAMES = {
    "dip": "dip",
    "temperature": "thermometer",
    STRENGTH: "alcoholometer",
    GRAVITY: "saccharometer",
    "cask weight": "scale",
}
PLAIN = {
    "20": ("Glass marked at 20 °C", 20.0),
    "15": ("Glass marked at 15 °C", 15.0),
    "15.56": ("Glass marked at 60 °F (15.56 °C)", SIXTY_FAHRENHEIT),
}


@dataclass(frozen=True, slots=True)
class Bench:
    """The instruments on the bench, read once for a page."""

    instruments: tuple[Instrument, ...]

    @property
    def uncertainty(self) -> InstrumentUncertainty:
        """Of one reading of each; where the site has entered none, those a gauge comes with."""
        return InstrumentUncertainty(**{
            READINGS[one.measures]: one.standard_uncertainty for one in self.instruments if one.measures in READINGS
        })  # fmt: skip

    @property
    def names(self) -> InstrumentNames:
        """By which code each is known."""
        return InstrumentNames(**{NAMES[one.measures]: one.code for one in self.instruments if one.measures in NAMES})

    def choices(self, measures: str) -> list[tuple[str, str]]:
        """The site's own first, then plain glass."""
        own = [(one.code, _described(one)) for one in self.instruments if one.measures == measures]
        return own + [(key, label) for key, (label, _) in PLAIN.items()]

    def reference_celsius(self, chosen: str) -> float | None:
        """Reference temperature of what was chosen; None where it is not on record."""
        if chosen in PLAIN:
            return PLAIN[chosen][1]
        return next(
            (
                None if one.reference_millicelsius is None else one.reference_millicelsius / MILLI
                for one in self.instruments
                if one.code == chosen
            ),
            None,
        )

    def alcoholometer(self, chosen: str) -> Alcoholometer:
        """The hydrometer chosen, graduated in % vol. Raises NoReferenceTemperature."""
        if chosen in PLAIN:
            return Alcoholometer(reference_celsius=PLAIN[chosen][1])
        own = next((one for one in self.instruments if one.code == chosen), None)
        if own is None or own.reference_millicelsius is None:
            return Alcoholometer(reference_celsius=None)
        return Alcoholometer(
            reference_celsius=own.reference_millicelsius / MILLI,
            glass_per_celsius=own.glass_expansion_per_celsius_billionths / BILLION,
        )


def bench() -> Bench:
    """What the plant has, in one query."""
    return Bench(tuple(Instrument.objects.all()))


def corrections_of(vessel: Vessel) -> Corrections:
    """The swelling of a vessel's shell, where the temperature of its calibration is on record."""
    if vessel.calibration_millicelsius is None or vessel.shell_expansion_per_celsius_billionths is None:
        return Corrections()
    return Corrections(
        shell=Shell(
            calibration_celsius=vessel.calibration_millicelsius / MILLI,
            expansion_per_celsius=vessel.shell_expansion_per_celsius_billionths / BILLION,
        )
    )


def gravity_table_on(day: date) -> GravityTable:
    """The table of gravity factors in force on a day; where the site has set none, the one that ships."""
    try:
        return gravity_table(day)
    except NoRuleInForce:
        return hmrc_gravity_table()


def _described(one: Instrument) -> str:
    if one.reference_millicelsius is None:
        return f"{one.code}, no reference temperature on record"
    return f"{one.code}, marked at {one.reference_millicelsius / MILLI:g} °C"
