"""Strike water: how hot the first water has to be for the temperature that is wanted, by the heat balance."""

from __future__ import annotations

from typing import Any

from distillery import figures
from distillery.alcoholometry.errors import OutOfRange
from distillery.alcoholometry.gauging.chain import ChainStep
from distillery.bench.answer import Answer, result
from distillery.bench.boxes import BenchForm, Figure, amount, beside
from distillery.bench.cautions import SCALDING
from distillery.bench.spread import Input, Values, spread
from distillery.clock.reading import books_today
from distillery.process.mashing import HEAT_OF_GRIST, mixed_celsius, strike_water_celsius
from distillery.rules.in_force import usual_figure
from distillery.rules.models import ONE

SOURCE = "Lewis and Young, Brewing, 2nd ed. 2001"
# One standard uncertainty of a thermometer in mash, and of the water's litres in %: common practice, no source.
THERMOMETER, METER = 0.3, 0.5


class StrikeForm(BenchForm):
    """Grist, water and the temperature that is wanted."""

    title = "Strike water"
    doubtful = "mash_celsius"
    caution = SCALDING

    mash_celsius = Figure("Mixed temperature wanted", "°C", initial="64")
    grist_celsius = Figure("Temperature of the grist", "°C", initial="15")
    grist_kg = amount("Grist", "kg")
    water_litres = amount("First water", "L")
    offset_celsius = Figure(
        "Offset of the site", "°C", required=False, help_text="With its sign. Blank takes what the site has set."
    )

    def work(self, given: dict[str, Any]) -> Answer:
        with beside("grist_kg"):
            ratio = _ratio(given["water_litres"], given["grist_kg"])
        offset = given["offset_celsius"]
        if offset is None:
            row = usual_figure("strike offset of the site", books_today())
            offset = (row.expected_millionths or 0) / ONE if row is not None else 0.0

        def calculate(values: Values) -> Values:
            mash, grist, litres, weight = values
            water = strike_water_celsius(
                mash_celsius=mash,
                grist_celsius=grist,
                litres_per_kg=litres / weight,
                site_offset_celsius=offset,
            )
            return (water,)

        found = spread(
            calculate,
            (
                Input("Mixed temperature", given["mash_celsius"], "°C", 0.0),
                Input("Temperature of the grist", given["grist_celsius"], "°C", THERMOMETER),
                Input("First water", given["water_litres"], "L", given["water_litres"] * METER / 100.0),
                Input("Grist", given["grist_kg"], "kg", given["grist_kg"] * METER / 100.0),
            ),
        )
        water = found.values[0]
        back = mixed_celsius(water_celsius=water - offset, grist_celsius=given["grist_celsius"], litres_per_kg=ratio)
        return Answer(
            facts=(
                result("First water at", water, "°C", 1, found.standard_uncertainty(0)),
                result("Water a kg of grist", ratio, "L/kg", 2),
                result("Offset of the site in it", offset, "°C", 1),
                result("Mixes to", back, "°C", 1),
            ),
            steps=(
                ChainStep("Heat of the grist, of as much water", HEAT_OF_GRIST, "", "c", SOURCE),
                ChainStep("First water", water, "°C", "Tm + (c/R) × (Tm − Tg) + offset", SOURCE),
            ),
            contributions=found.table((0, "the water", "°C")),
            notes=(
                "Published example: 64 °C from grist of 15 °C at 4 L/kg takes 68.9 °C, printed as 156 °F "
                f"({SOURCE}, as quoted publicly).",
                "The heat that dry malt gives off as it is wetted is not in it: what the mixer shows above this again "
                f"and again is the site's offset, {figures.celsius(offset, style=figures.SIGNED)} °C now.",
                "± takes the thermometer as ± 0.6 °C and water and grist as ± 1 %: common practice, no source.",
            ),
        )


def _ratio(litres: float, kilograms: float) -> float:
    if not kilograms:
        raise OutOfRange("The grist weighs 0 kg: enter its weight.")
    return litres / kilograms
