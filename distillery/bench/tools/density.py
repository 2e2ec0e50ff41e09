"""A density meter's display to strength: it must be said whether it shows density in air or in vacuum."""

from __future__ import annotations

from typing import Any

from django import forms

from distillery.alcoholometry.chain import ChainStep
from distillery.alcoholometry.formula import isotherm
from distillery.alcoholometry.gauge_readings import AIR, R22
from distillery.alcoholometry.reading import DensityMeter
from distillery.alcoholometry.strength import (
    VacuumDensity,
    density20_of_percent,
    percent_mass_of_percent_vol,
    percent_vol_of_mass_fraction,
)
from distillery.bench.answer import Answer, result
from distillery.bench.boxes import TWO_STANDARD, BenchForm, Figure, amount, standard, temperature
from distillery.bench.spread import Input, Values, spread

USUAL_KG_PER_M3 = 0.05
USUAL_CELSIUS = 0.02


class DensityForm(BenchForm):
    """Density meter to strength."""

    title = "Density meter"
    doubtful = "density"

    density = Figure("Density displayed", "kg/m³", check=VacuumDensity)
    basis = forms.ChoiceField(
        label="The display is a density",
        choices=(("", "Choose"), ("vacuum", "in vacuum (true density)"), ("air", "in air")),
        error_messages={"required": "Say whether this meter shows density in air or in vacuum: its manual tells."},
    )
    celsius = temperature("Temperature of its cell", initial="20")
    correction = Figure("Correction by certificate", "kg/m³", required=False)
    density_pm = amount("± on the display", "kg/m³", required=False, help_text=TWO_STANDARD)

    def work(self, given: dict[str, Any]) -> Answer:
        meter = DensityMeter(basis=given["basis"])
        shown = given["density"] + (given["correction"] or 0.0)

        def calculate(values: Values) -> Values:
            density = meter.density(values[0]).kg_per_m3
            percent = percent_vol_of_mass_fraction(isotherm(values[1]).mass_fraction(density))
            in_vacuum = density20_of_percent(percent)
            return (
                percent,
                percent_mass_of_percent_vol(percent),
                in_vacuum.kg_per_m3,
                in_vacuum.in_air().kg_per_m3,
                density,
            )

        found = spread(
            calculate,
            (
                Input("Display", shown, "kg/m³", standard(given["density_pm"], USUAL_KG_PER_M3)),
                Input("Temperature of the cell", given["celsius"], "°C", USUAL_CELSIUS),
            ),
        )
        percent, mass, vacuum20, air20, vacuum = found.values
        sure = found.standard_uncertainty
        return Answer(
            facts=(
                result("True strength at 20 °C", percent, "% vol", 2, sure(0)),
                result("By mass", mass, "% mas", 2, sure(1)),
                result("Density in vacuum at 20 °C", vacuum20, "kg/m³", 2, sure(2)),
                result("Density in air at 20 °C", air20, "kg/m³", 2, sure(3)),
            ),
            steps=(
                ChainStep("Display, corrected", shown, "kg/m³", "display + correction", "the meter's certificate"),
                ChainStep("Density in vacuum", vacuum, "kg/m³", "as said, or from air to vacuum", AIR),
                ChainStep("True strength", percent, "% vol", "solved for strength at the cell's temperature", R22),
            ),
            contributions=found.table((0, "the strength", "% vol"),),
            notes=(
                f"Where no ± is given, the display counts as ± {2 * USUAL_KG_PER_M3:g} kg/m³; the cell's temperature "
                f"as ± {2 * USUAL_CELSIUS:g} °C. Neither is from a certificate: use the meter's own.",
                "A meter has no glass to swell, so no glass term enters. Solids in the sample hide alcohol.",
            ),
        )
