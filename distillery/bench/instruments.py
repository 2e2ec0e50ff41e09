"""The site's instruments as the bench needs them: the plant of today, with plain glass beside its own instruments.

An instrument of the plant that lacks its reference temperature or the basis of its density is offered all the same, so
that choosing it says what is wrong; plain glass of 20 °C, 15 °C and 60 °F is offered beside it. What a sum rests on
(certificates, uncertainties, obscuration) is what the records of today rest on.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from distillery.alcoholometry.gravity import GravityTable, hmrc_gravity_table
from distillery.alcoholometry.obscuration import Obscuration
from distillery.alcoholometry.reading import SIXTY_FAHRENHEIT, Alcoholometer
from distillery.clock.reading import books_now, site_day
from distillery.plant.lookup import Plant
from distillery.plant.models import Instrument, Vessel, WorksBy
from distillery.plant.outfit import GRAVITY, MILLI, STRENGTH, Outfit
from distillery.rules.in_force import NoRuleInForce

__all__ = ["GRAVITY", "STRENGTH", "Bench", "bench"]

PLAIN = {
    "20": ("Glass marked at 20 °C", 20.0),
    "15": ("Glass marked at 15 °C", 15.0),
    "15.56": ("Glass marked at 60 °F (15.56 °C)", SIXTY_FAHRENHEIT),
}


class Bench:
    """The plant of today, read once for a page."""

    def __init__(self) -> None:
        self.plant = Plant()
        self.now = books_now()
        self.today: date = site_day(self.now)

    def choices(self, measures: str, *, meters: bool = False) -> list[tuple[str, str]]:
        """What may be chosen for a kind of reading, the one in use today first, then plain glass.

        Oscillating meters are told apart by `meters`: they are read on their own page, in kg/m³.
        """
        in_use = self.plant.register.in_use(self.today).get(measures)
        own = [
            one
            for one in self.plant.register.instruments
            if one.measures == measures and (one.works_by == WorksBy.OSCILLATION) == meters
        ]
        own.sort(key=lambda one: (in_use is None or one.pk != in_use.pk, one.code))
        glass = [] if meters else [(key, label) for key, (label, _celsius) in PLAIN.items()]
        return [(one.code, _described(one)) for one in own] + glass

    def outfit(self, chosen: str = "", *, vessel: Vessel | None = None) -> Outfit:
        """What is gauged with today: the site's instruments, that chosen before those in use."""
        hidden = self.plant.register.obscuration(vessel, self.now) if vessel else None
        if chosen in PLAIN:
            return self.plant.register.outfit(
                self.today, vessel=vessel, hidden=hidden, plain=Alcoholometer(reference_celsius=PLAIN[chosen][1])
            )
        instrument = self.plant.register.instrument(chosen)
        return self.plant.register.outfit(self.today, vessel=vessel, hidden=hidden, chosen=instrument)

    def as_records(self, outfit: Outfit, vessel: Vessel | None) -> bool:
        """True where a record of today would correct the same reading with the same instrument and obscuration."""
        theirs = self.outfit(vessel=vessel)
        return outfit.names == theirs.names and outfit.plain is None and outfit.obscuration == theirs.obscuration

    def reference_celsius(self, chosen: str) -> float | None:
        """Reference temperature of what was chosen; None where it is not on record."""
        if chosen in PLAIN:
            return PLAIN[chosen][1]
        own = self.plant.register.instrument(chosen)
        return None if own is None or own.reference_millicelsius is None else own.reference_millicelsius / MILLI

    def gravities(self) -> GravityTable:
        """The table of gravity factors in force today; where the site has set none, the one that ships."""
        try:
            return self.plant.gravities(self.today)
        except NoRuleInForce:
            return hmrc_gravity_table()

    def obscured(self, outfit: Outfit, percent: float | None) -> Outfit:
        """The same outfit with an obscuration as typed in place of the one on record; a blank keeps that."""
        if percent is None:
            return outfit
        return replace(outfit, typed=Obscuration(percent, self.today, "typed at the bench"))


def bench() -> Bench:
    """What the plant has today."""
    return Bench()


def _described(one: Instrument) -> str:
    if one.reference_millicelsius is None:
        return f"{one.code}, no reference temperature on record"
    made_for = "cell at" if one.works_by == WorksBy.OSCILLATION else "marked at"
    scale = "" if one.unit in ("", "percent_vol", "relative_density") else f", in {one.unit}"
    return f"{one.code}, {made_for} {one.reference_millicelsius / MILLI:g} °C{scale}"
