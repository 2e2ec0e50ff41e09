"""A density meter's display to strength: it must be said whether it shows density in air or in vacuum.

A meter of the site's own says so on its record, with its certificate and how sure it is; any other has to be asked.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from django import forms

from distillery.alcoholometry.gauging.chain import ChainStep
from distillery.alcoholometry.gauging.nothing import apparent_percent_shown_by, possible_percent, shortfall_step
from distillery.alcoholometry.gauging.readings import AIR, R22
from distillery.alcoholometry.reading import Certificate, DensityMeter
from distillery.alcoholometry.strength import VacuumDensity, density20_of_percent, percent_mass_of_percent_vol
from distillery.bench.answer import Answer, result
from distillery.bench.boxes import (
    TWO_STANDARD,
    BenchForm,
    Figure,
    Refusal,
    amount,
    beside,
    obscuration,
    standard,
    strength_instrument_of,
    temperature,
)
from distillery.bench.cautions import remarks_on
from distillery.bench.instruments import STRENGTH
from distillery.bench.spread import Input, Values, short_of_water, spread

USUAL_KG_PER_M3 = 0.05
USUAL_CELSIUS = 0.02
ANOTHER = ""


class DensityForm(BenchForm):
    """Density meter to strength."""

    title = "Density meter"
    doubtful = "density"

    density = Figure("Density displayed", "kg/m³", check=VacuumDensity)
    meter = forms.ChoiceField(label="Meter", required=False)
    basis = forms.ChoiceField(
        label="The display is a density",
        required=False,
        choices=(("", "as on record"), ("vacuum", "in vacuum (true density)"), ("air", "in air")),
    )
    celsius = temperature("Temperature of its cell", initial="20")
    correction = Figure(
        "Correction by certificate", "kg/m³", required=False, help_text="Blank takes the certificate on record."
    )
    density_pm = amount("± on the display", "kg/m³", required=False, help_text=TWO_STANDARD)
    obscuration_percent = obscuration(help_text="True less apparent strength, with its sign; blank for clear spirit.")

    def prepare(self) -> None:
        box = self.fields["meter"]
        assert isinstance(box, forms.ChoiceField)
        box.choices = [*self.bench.choices(STRENGTH, meters=True), (ANOTHER, "one not on record")]
        box.initial = box.choices[0][0]

    def work(self, given: dict[str, Any]) -> Answer:
        meter, usual, rests_on = self._meter(given)
        typed, shown = given["correction"], given["density"]
        if typed is not None:
            certificate = Certificate(((shown - 1.0, typed), (shown + 1.0, typed)), "correction as typed")
            meter = DensityMeter(meter.basis, certificate, meter.cell_celsius)
        hidden = given["obscuration_percent"] or 0.0

        def calculate(values: Values) -> Values:
            density = meter.density(values[0])
            at_cell = replace(meter, cell_celsius=values[1])
            apparent = apparent_percent_shown_by(reading=values[0], celsius=values[1], instrument=at_cell)
            percent = possible_percent(apparent, hidden) + sum(values[2:])
            in_vacuum = density20_of_percent(max(apparent, 0.0))
            return (
                percent,
                percent_mass_of_percent_vol(max(percent, 0.0)),
                in_vacuum.kg_per_m3,
                in_vacuum.in_air().kg_per_m3,
                density.kg_per_m3,
            )

        with beside("obscuration_percent" if hidden else self.doubtful):
            short = max(-calculate((shown, given["celsius"]))[0], 0.0)
            found = spread(
                calculate,
                (
                    Input("Display", shown, "kg/m³", standard(given["density_pm"], usual)),
                    Input("Temperature of the cell", given["celsius"], "°C", USUAL_CELSIUS),
                    *short_of_water(short),
                ),
            )
        percent, mass, vacuum20, air20, vacuum = found.values
        sure = found.standard_uncertainty
        obscured = (
            (ChainStep("True strength", percent, "% vol", f"apparent {hidden:+g} of obscuration", "as typed"),)
            if hidden
            else ()
        )
        return Answer(
            facts=(
                result("True strength at 20 °C", percent, "% vol", 2, sure(0)),
                result("By mass", mass, "% mas", 2, sure(1)),
                result("Density in vacuum at 20 °C", vacuum20, "kg/m³", 2, sure(2)),
                result("Density in air at 20 °C", air20, "kg/m³", 2, sure(3)),
            ),
            steps=(
                ChainStep(
                    "Display, corrected",
                    meter.certificate.corrected(shown, "density"),
                    "kg/m³",
                    "display + correction",
                    meter.certificate.source,
                ),
                ChainStep("Density in vacuum", vacuum, "kg/m³", f"display in {meter.basis}, to vacuum", AIR),
                ChainStep(
                    "Apparent strength" if hidden else "True strength",
                    percent - hidden - short,
                    "% vol",
                    "solved for strength at the cell's temperature",
                    R22,
                ),
                *obscured,
                *shortfall_step(-short),
            ),
            contributions=found.table(
                (0, "the strength", "% vol"),
            ),
            remarks=remarks_on(celsius=given["celsius"], percent20=percent),
            notes=(
                f"{rests_on} The cell's temperature counts as ± {2 * USUAL_CELSIUS:g} °C.",
                "A meter has no glass to swell, so no glass term enters. Solids in the sample hide alcohol.",
            ),
        )

    def _meter(self, given: dict[str, Any]) -> tuple[DensityMeter, float, str]:
        """The meter, the standard uncertainty of its display, and what to say of it."""
        if given["meter"] == ANOTHER:
            if not given["basis"]:
                raise Refusal("basis", "Say whether this meter shows density in air or in vacuum: its manual tells.")
            return (
                DensityMeter(given["basis"]),
                USUAL_KG_PER_M3,
                f"Where no ± is given, the display counts as ± {2 * USUAL_KG_PER_M3:g} kg/m³, which is from no "
                "certificate.",
            )
        outfit = self.bench.outfit(given["meter"])
        instrument = strength_instrument_of(outfit, "meter")
        if not isinstance(instrument, DensityMeter):
            raise Refusal("meter", "This is no density meter: choose another, or one not on record.")
        if given["basis"] and given["basis"] != instrument.basis:
            raise Refusal(
                "basis",
                f"{given['meter']} is on record as showing density in {instrument.basis}: leave this as it is on "
                "record, or have the record put right.",
            )
        rests_on = f"{given['meter']} shows density in {instrument.basis}, with the uncertainty on its record."
        return instrument, outfit.uncertainty.percent, rests_on
