"""Correct a reading: what a glass hydrometer showed at a temperature, as true strength at 20 °C.

Corrections by certificate are added to reading and thermometer first (27 CFR 30.23); then OIML R 22:1975 with the
instrument's own reference temperature and glass.
"""

from __future__ import annotations

from typing import Any

from distillery.alcoholometry.chain import ChainStep
from distillery.alcoholometry.formula import isotherm
from distillery.alcoholometry.gauge_readings import R22
from distillery.alcoholometry.reading import true_percent_of_reading
from distillery.alcoholometry.strength import density20_of_percent, percent_mass_of_percent_vol
from distillery.alcoholometry.volume import factor_to_20
from distillery.bench.answer import Answer, result
from distillery.bench.boxes import BenchForm, Figure, amount, beside, instrument_box, offer_instruments, temperature
from distillery.bench.instruments import STRENGTH
from distillery.bench.spread import Input, Values, spread

FROM_CERTIFICATE = "the instrument's certificate"


class ReadingForm(BenchForm):
    """Hydrometer and thermometer to strength."""

    title = "Correct a reading"
    doubtful = "hydrometer_percent"

    hydrometer_percent = Figure("Hydrometer reading", "% vol")
    celsius = temperature("Temperature of the sample")
    instrument = instrument_box()
    hydrometer_correction = Figure("Hydrometer, correction by certificate", "% vol", required=False)
    thermometer_correction = Figure("Thermometer, correction by certificate", "°C", required=False)
    litres = amount("Volume at that temperature", "L", required=False)

    def prepare(self) -> None:
        offer_instruments(self, "instrument", STRENGTH)

    def work(self, given: dict[str, Any]) -> Answer:
        reading = given["hydrometer_percent"] + (given["hydrometer_correction"] or 0.0)
        liquid_celsius = given["celsius"] + (given["thermometer_correction"] or 0.0)
        with beside("instrument"):
            instrument = self.bench.alcoholometer(given["instrument"])
        with beside("thermometer_correction"):
            isotherm(liquid_celsius)

        def calculate(values: Values) -> Values:
            percent = true_percent_of_reading(reading=values[0], celsius=values[1], instrument=instrument)
            factor = factor_to_20(percent20=percent, celsius=values[1])
            return (
                percent,
                percent_mass_of_percent_vol(percent),
                density20_of_percent(percent).kg_per_m3,
                factor,
                factor * percent / 100.0,
            )

        u = self.bench.uncertainty
        found = spread(
            calculate,
            (
                Input("Hydrometer reading", reading, "% vol", u.percent),
                Input("Temperature", liquid_celsius, "°C", u.celsius),
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
        notes = ["± is two standard uncertainties of hydrometer and thermometer; the volume is taken as exact."]
        return Answer(
            facts=tuple(facts),
            steps=(
                ChainStep("Reading, corrected", reading, "% vol", "reading + correction", FROM_CERTIFICATE),
                ChainStep("Temperature, corrected", liquid_celsius, "°C", "temperature + correction", FROM_CERTIFICATE),
                ChainStep(
                    "Density of the mark",
                    instrument.density_of_mark(reading),
                    "kg/m³",
                    f"the mark at {instrument.celsius:.2f} °C",
                    R22,
                ),
                ChainStep(
                    "Density of the liquid",
                    instrument.density_of_liquid(reading=reading, celsius=liquid_celsius),
                    "kg/m³",
                    "density of the mark × (1 − g × (t − T0))",
                    R22,
                ),
                ChainStep("True strength", percent, "% vol", "solved for strength at t", R22),
                ChainStep("Volume factor", factor, "", "density at t / density at 20 °C", R22),
            ),
            contributions=found.table((0, "the strength", "% vol"), (3, "the factor", "")),
            notes=tuple(notes),
        )
