"""Correct a reading: what a strength instrument showed at a temperature, as true strength at 20 °C.

Corrections by certificate are added to reading and thermometer first (27 CFR 30.23); then OIML R 22:1975 with the
instrument's own reference temperature and glass; then what solids hide.
"""

from __future__ import annotations

from typing import Any

from distillery.alcoholometry.formula import isotherm
from distillery.alcoholometry.gauging.chain import ChainStep
from distillery.alcoholometry.gauging.nothing import apparent_percent_shown_by, possible_percent, shortfall_step
from distillery.alcoholometry.gauging.readings import R22, SCALE_UNITS
from distillery.alcoholometry.reading import Alcoholometer, Certificate
from distillery.alcoholometry.strength import density20_of_percent, percent_mass_of_percent_vol
from distillery.alcoholometry.volume import factor_to_20
from distillery.bench.answer import Answer, result
from distillery.bench.boxes import (
    BenchForm,
    Figure,
    Refusal,
    amount,
    beside,
    instrument_box,
    obscuration,
    offer_instruments,
    strength_instrument_of,
    temperature,
)
from distillery.bench.cautions import remarks_on
from distillery.bench.instruments import STRENGTH
from distillery.bench.spread import Input, Values, short_of_water, spread

TYPED = "correction as typed"
REPLACES = "Blank takes the certificate on record."


class ReadingForm(BenchForm):
    """Hydrometer and thermometer to strength."""

    title = "Correct a reading"
    doubtful = "hydrometer_percent"

    hydrometer_percent = Figure("Hydrometer reading", "% vol", help_text="Or in the unit of its scale.")
    celsius = temperature("Temperature of the sample")
    instrument = instrument_box()
    hydrometer_correction = Figure("Hydrometer, correction by certificate", "% vol", required=False, help_text=REPLACES)
    thermometer_correction = Figure("Thermometer, correction by certificate", "°C", required=False, help_text=REPLACES)
    obscuration_percent = obscuration(help_text="True less apparent strength, with its sign; blank for clear spirit.")
    litres = amount("Volume at that temperature", "L", required=False)

    def prepare(self) -> None:
        offer_instruments(self, "instrument", STRENGTH)

    def work(self, given: dict[str, Any]) -> Answer:
        outfit = self.bench.outfit(given["instrument"])
        instrument = strength_instrument_of(outfit)
        if not isinstance(instrument, Alcoholometer):
            raise Refusal("instrument", "This is a density meter: use the sum Density meter for what it displays.")
        unit, step = SCALE_UNITS[instrument.scale]
        hydrometer = _certificate(given["hydrometer_correction"], given["hydrometer_percent"], instrument.certificate)
        thermometer = _certificate(given["thermometer_correction"], given["celsius"], outfit.corrections.thermometer)
        glass = Alcoholometer(instrument.reference_celsius, instrument.scale, instrument.glass_per_celsius, hydrometer)
        with beside("thermometer_correction" if given["thermometer_correction"] is not None else "celsius"):
            liquid_celsius = thermometer.corrected(given["celsius"], "temperature")
            isotherm(liquid_celsius)
        reading = hydrometer.corrected(given["hydrometer_percent"], "hydrometer reading")
        hidden = given["obscuration_percent"] or 0.0

        def calculate(values: Values) -> Values:
            at = thermometer.corrected(values[1], "temperature")
            apparent = apparent_percent_shown_by(reading=values[0], celsius=at, instrument=glass)
            liquid = max(apparent, 0.0)
            factor = factor_to_20(percent20=liquid, celsius=at)
            percent = possible_percent(apparent, hidden) + sum(values[2:])
            return (
                percent,
                percent_mass_of_percent_vol(max(percent, 0.0)),
                density20_of_percent(liquid).kg_per_m3,
                factor,
                factor * percent / 100.0,
            )

        u = outfit.uncertainty
        with beside("obscuration_percent" if hidden else self.doubtful):
            short = max(-calculate((given["hydrometer_percent"], given["celsius"]))[0], 0.0)
            found = spread(
                calculate,
                (
                    Input("Hydrometer reading", given["hydrometer_percent"], unit, u.percent, step),
                    Input("Temperature", given["celsius"], "°C", u.celsius),
                    *short_of_water(short),
                ),
            )
        percent, mass, density, factor, alcohol = found.values
        sure = found.standard_uncertainty
        facts = [
            result("True strength at 20 °C", percent, "% vol", 2, sure(0)),
            result("By mass", mass, "% mas", 2, sure(1)),
            result("Density in vacuum at 20 °C", density, "kg/m³", 2, sure(2)),
            result("Volume factor to 20 °C", factor, "", 5, sure(3)),
        ]
        if given["litres"] is not None:
            litres = given["litres"]
            facts += [
                result("Volume at 20 °C", litres * factor, "L", 2, litres * sure(3)),
                result("Pure alcohol", litres * alcohol, "LPA", 2, litres * sure(4)),
            ]
        clear = ChainStep(
            "Apparent strength" if hidden else "True strength",
            percent - hidden - short,
            "% vol",
            "solved for strength at t",
            R22,
        )
        obscured = (
            (ChainStep("True strength", percent, "% vol", f"apparent {hidden:+g} of obscuration", "as typed"),)
            if hidden
            else ()
        )
        return Answer(
            facts=tuple(facts),
            steps=(
                ChainStep("Reading, corrected", reading, unit, "reading + correction", hydrometer.source),
                ChainStep(
                    "Temperature, corrected", liquid_celsius, "°C", "temperature + correction", thermometer.source
                ),
                ChainStep(
                    "Density of the mark",
                    glass.density_of_mark(reading),
                    "kg/m³",
                    f"the mark at {glass.celsius:.2f} °C",
                    R22,
                ),
                ChainStep(
                    "Density of the liquid",
                    glass.density_of_liquid(reading=given["hydrometer_percent"], celsius=liquid_celsius),
                    "kg/m³",
                    "density of the mark × (1 − g × (t − T0))",
                    R22,
                ),
                clear,
                *obscured,
                *shortfall_step(-short),
                ChainStep("Volume factor", factor, "", "density at t / density at 20 °C", R22),
            ),
            contributions=found.table((0, "the strength", "% vol"), (3, "the factor", "")),
            remarks=remarks_on(celsius=liquid_celsius, percent20=percent),
            notes=(
                "± is two standard uncertainties of hydrometer and thermometer, with what their certificates leave "
                "open; the volume is taken as exact.",
            ),
        )


def _certificate(typed: float | None, reading: float, on_record: Certificate) -> Certificate:
    """The correction as typed, at any reading near, in place of the certificate on record."""
    if typed is None:
        return on_record
    return Certificate(((reading - 1.0, typed), (reading + 1.0, typed)), TYPED)
