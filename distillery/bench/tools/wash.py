"""Wash strength from its gravities, each corrected to 20 °C first, by the dated table of factors."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Any

from distillery import figures
from distillery.alcoholometry.gauging.chain import ChainStep
from distillery.alcoholometry.gravity import gravity_drop_degrees, step_uncertainty_percent
from distillery.alcoholometry.reading import UNCORRECTED
from distillery.alcoholometry.rounding import DUTY_STRENGTH
from distillery.alcoholometry.wort import (
    HIGHEST_PLATO_GRAVITY,
    LOWEST_PLATO_GRAVITY,
    apparent_attenuation_percent,
    corrected_gravity,
    plato_of_gravity,
    water_kg_per_m3,
)
from distillery.bench.answer import Answer, result
from distillery.bench.boxes import BenchForm, Figure, amount, beside, gravity, instrument_box, offer_instruments
from distillery.bench.cautions import WASH
from distillery.bench.instruments import GRAVITY, PLAIN
from distillery.bench.spread import Input, Values, spread
from distillery.pages import Fact

WATER = "Tanaka et al., Metrologia 38 (2001) 301-309"
TO_REFERENCE = "reading × (1 − g × (t − T0)) × water at T0 / water at t"
STEP = 1e-5
# Room for the differences that the uncertainty is taken from, at the ends of the Plato table.
MARGIN = 1e-4
FAIR_LOW, FAIR_HIGH = 10.0, 30.0


class WashForm(BenchForm):
    """Original and present gravity."""

    title = "Wash strength"
    doubtful = "present_gravity"
    caution = WASH

    original_gravity = gravity("Original gravity as read")
    original_celsius = Figure("Original read at", "°C", check=water_kg_per_m3, initial="20")
    present_gravity = gravity("Present gravity as read")
    present_celsius = Figure("Present read at", "°C", check=water_kg_per_m3, initial="20")
    instrument = instrument_box("Saccharometer")
    litres = amount("Wash at 20 °C", "L", required=False)

    def prepare(self) -> None:
        offer_instruments(self, "instrument", GRAVITY)

    def work(self, given: dict[str, Any]) -> Answer:
        reference = self.bench.reference_celsius(given["instrument"])
        outfit = self.bench.outfit("" if given["instrument"] in PLAIN else given["instrument"])
        # Plain glass is nobody's: the certificate of the site's own saccharometer says nothing about it.
        certificate = UNCORRECTED if given["instrument"] in PLAIN else outfit.corrections.saccharometer
        thermometer = outfit.corrections.thermometer

        def at_reference(reading: float, read_at: float) -> float:
            return corrected_gravity(
                reading=certificate.corrected(reading, "gravity"),
                celsius=thermometer.corrected(read_at, "temperature"),
                reference_celsius=reference,
            )

        with beside("instrument" if reference is None else "original_gravity"):
            original = at_reference(given["original_gravity"], given["original_celsius"])
        present = at_reference(given["present_gravity"], given["present_celsius"])
        drop = gravity_drop_degrees(original_gravity=original, present_gravity=present)
        table = self.bench.gravities()
        factor = table.factor(drop)
        in_plato = LOWEST_PLATO_GRAVITY + MARGIN < original < HIGHEST_PLATO_GRAVITY - MARGIN

        # The slopes are those of the band's own factor; the step to the next is an input of its own.
        def calculate(values: Values) -> Values:
            og, og_celsius, pg, pg_celsius, of_table = values
            first, now = at_reference(og, og_celsius), at_reference(pg, pg_celsius)
            degrees = 1000.0 * (first - now)
            attenuation = apparent_attenuation_percent(original_gravity=first, present_gravity=min(now, first))
            return degrees * of_table, degrees, attenuation, plato_of_gravity(first) if in_plato else 0.0

        u = outfit.uncertainty
        inputs = (
            Input("Original gravity", given["original_gravity"], "", u.gravity, STEP),
            Input("Temperature of the original", given["original_celsius"], "°C", u.celsius),
            Input("Present gravity", given["present_gravity"], "", u.gravity, STEP),
            Input("Temperature of the present", given["present_celsius"], "°C", u.celsius),
        )
        of_table = Input("Factor of the table", float(factor), "% vol a degree", 0.0)
        u_drop = spread(calculate, (*inputs, of_table)).standard_uncertainty(1)
        step = step_uncertainty_percent(table, drop_degrees=float(drop), u_degrees=u_drop)
        if drop:
            of_table = replace(of_table, standard_uncertainty=step / float(drop))
        found = spread(calculate, (*inputs, of_table))
        strength = drop * factor
        sure = found.standard_uncertainty
        facts = [
            result("Strength of the wash, estimated", float(strength), "% vol", 2, sure(0)),
            result("Gravity drop", float(drop), "degrees", 1, sure(1)),
            Fact(
                "Factor",
                figures.number(factor, 3),
                "% vol a degree",
                note=f"table of {figures.day(table.from_date, year=True)}",
            ),
            result("Apparent attenuation", found.values[2], "%", 1, sure(2)),
            Fact(
                "Rounded down to one decimal",
                f"{DUTY_STRENGTH.apply(Decimal(strength))}",
                "% vol",
                note="the rounding of a strength for duty; work on with the unrounded figure",
            ),
        ]
        if in_plato:
            facts.append(result("Original extract", found.values[3], "°P", 2, sure(3)))
        if given["litres"] is not None:
            litres = given["litres"]
            facts.append(
                result("Pure alcohol, estimated", litres * float(strength) / 100, "LPA", 1, litres * sure(0) / 100)
            )
        return Answer(
            facts=tuple(facts),
            steps=(
                ChainStep("Original gravity, corrected", original, "", TO_REFERENCE, WATER),
                ChainStep("Present gravity, corrected", present, "", TO_REFERENCE, WATER),
                ChainStep("Drop", float(drop), "degrees", "1000 × (original − present)", table.source),
                ChainStep("Strength", float(strength), "% vol", "drop × factor", table.source),
            ),
            contributions=found.table((0, "the strength", "% vol")),
            remarks=self._remarks(given),
            notes=(
                f"Table of factors in force from {figures.day(table.from_date, year=True)}: {table.source}.",
                "An estimate, for the wash account and to judge a charge; duty on spirit does not rest on it.",
                "± covers the readings and the step to the table's next factor, not how well the table fits this wash.",
            ),
        )

    def _remarks(self, given: dict[str, Any]) -> tuple[str, ...]:
        outside = [
            given[box] for box in ("original_celsius", "present_celsius") if not FAIR_LOW <= given[box] <= FAIR_HIGH
        ]
        if not outside:
            return ()
        return (
            f"Read at {outside[0]:g} °C: wort is taken to swell like water, which is fair from 10 to 30 °C only. "
            "Bring the sample nearer to 20 °C and read again.",
        )
