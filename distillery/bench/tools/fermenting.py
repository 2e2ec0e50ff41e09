"""Sums of the tun room: yeast by its form, carbon dioxide and the fresh air it would take, washbacks needed."""

from __future__ import annotations

from typing import Any

from django import forms

from distillery import figures
from distillery.alcoholometry.gauging.chain import ChainStep
from distillery.bench.answer import Answer, result
from distillery.bench.boxes import BenchForm, Figure, Refusal, amount, percent
from distillery.bench.cautions import FERMENTING, WASH
from distillery.clock.reading import books_today
from distillery.pages import Fact
from distillery.process.fermenting import (
    CARBON_DIOXIDE_KG_PER_LPA,
    CARBON_DIOXIDE_LITRES_PER_LPA,
    OUTSIDE_AIR_SHARE,
    YEAST,
    YeastForm,
    carbon_dioxide_cubic_metres,
    carbon_dioxide_kg,
    exposure,
    fresh_air_cubic_metres_per_hour,
    pitched,
    washbacks_needed,
)
from distillery.rules.in_force import usual_figure
from distillery.rules.models import ONE, UsualFigure

STOICHIOMETRY = "C6H12O6 → 2 C2H5OH + 2 CO2"
MILLION = 1e6


class YeastRateForm(BenchForm):
    """How much yeast a weight is, by the form it was weighed in."""

    title = "Yeast rate"
    doubtful = "wash_litres"
    caution = FERMENTING

    yeast_kg = amount("Yeast", "kg")
    form = forms.ChoiceField(label="Form", choices=[(one.value, one.value) for one in YeastForm])
    wash_litres = amount("Wash set", "L")
    malt_kg = amount("Malt", "kg", required=False)

    def work(self, given: dict[str, Any]) -> Answer:
        form = YeastForm(given["form"])
        found = pitched(
            yeast_kg=given["yeast_kg"], form=form, wash_litres=given["wash_litres"], malt_kg=given["malt_kg"] or None
        )
        facts = [
            result("Rate", found.kg_per_hectolitre, "kg/hL", 3),
            result("Rate", found.grams_per_litre, "g/L", 2),
        ]
        if found.percent_of_malt is not None and found.dry_percent_of_malt is not None:
            facts.append(result("Of the malt", found.percent_of_malt, "%", 2))
            facts.append(result("Dry matter, of the malt", found.dry_percent_of_malt, "%", 3))
        if found.cells_per_ml:
            facts.append(result("Cells, about", found.cells_per_ml / MILLION, "million/mL", 0))
        else:
            facts.append(Fact("Cells", "not known", note="no count is known for cream yeast: count them"))
        return Answer(
            facts=tuple(facts),
            steps=(
                ChainStep("Dry matter", YEAST[form].dry_percent, "%", form.value, DRY_MATTER),
                ChainStep("Cells", found.grams_per_litre, "g/L", "g/L × cells a gram / 1000", "from memory"),
            ),
            notes=(
                "Published example: 40 kg in 24,000 L are 0.167 kg/hL; dried, some 33 million cells a mL; pressed, on "
                "5,000 kg of malt, 0.224 % of it dry (common practice, no source; computed).",
                f"Dry matter: {DRY_MATTER}. Cells a gram (1e10 pressed, 2e10 dried): from memory.",
            ),
        )


class CarbonDioxideForm(BenchForm):
    """Carbon dioxide of a fermentation, the air that would thin it, and what a reading says of the limits."""

    title = "Carbon dioxide and fresh air"
    doubtful = "lpa"
    caution = FERMENTING

    lpa = amount("Pure alcohol the wash will hold", "LPA")
    peak_percent = percent(
        "Made in an hour at the peak", initial="5", help_text="Of all of it; 5 % is common practice, no source."
    )
    ppm_8_hours = amount("Read: average over 8 hours", "ppm", required=False)
    ppm_15_minutes = amount("Read: average over 15 minutes", "ppm", required=False)

    def work(self, given: dict[str, Any]) -> Answer:
        lpa = given["lpa"]
        flow = given["peak_percent"] / 100.0 * carbon_dioxide_cubic_metres(lpa)
        long, short = _limit("8 hours"), _limit("15 minutes")
        facts = [
            result("Carbon dioxide", carbon_dioxide_kg(lpa), "kg", 0),
            result("As gas at 20 °C", carbon_dioxide_cubic_metres(lpa), "m³", 0),
            result("At the peak", flow, "m³/h", 1),
        ]
        for row, over in ((long, "8 hours"), (short, "15 minutes")):
            air = fresh_air_cubic_metres_per_hour(carbon_dioxide_m3_per_hour=flow, limit_share=_ppm(row) / MILLION)
            label = f"Fresh air to hold {figures.number(_ppm(row))} ppm"
            facts.append(Fact(label, figures.number(air), "m³/h", note=f"the limit over {over}"))
        if given["ppm_8_hours"] is not None or given["ppm_15_minutes"] is not None:
            said = exposure(
                ppm_8_hours=given["ppm_8_hours"],
                ppm_15_minutes=given["ppm_15_minutes"],
                limit_8_hours_ppm=_ppm(long),
                limit_15_minutes_ppm=_ppm(short),
            )
            facts.append(Fact("The reading is", said.value, note="no reading says that the air stays so"))
        return Answer(
            facts=tuple(facts),
            steps=(
                ChainStep("Of a litre of pure alcohol", CARBON_DIOXIDE_KG_PER_LPA, "kg", "by mass", STOICHIOMETRY),
                ChainStep("The same as gas", CARBON_DIOXIDE_LITRES_PER_LPA, "L", "24.055 L a mole", "ideal gas, 1 atm"),
                ChainStep(
                    "Outside air holds", 100.0 * OUTSIDE_AIR_SHARE, "%", "gas / (limit − outside)", "from memory"
                ),
            ),
            remarks=("So much air does not pass a tun room: take the gas away where it comes off.",),
            notes=(
                "Published example: 2,100 LPA give 1,583 kg and 865 m³; at 5 % an hour some 9,400 m³/h of air would "
                "hold 5,000 ppm (stoichiometry, computed).",
                *(f"Limit from {figures.day(row.from_day, year=True)}: {row.source}." for row in (long, short)),
            ),
        )


class WashbacksForm(BenchForm):
    """How many washbacks it takes to set one at every mash."""

    title = "Washbacks needed"
    doubtful = "mash_interval_hours"
    caution = WASH

    ferment_hours = Figure("Fermentation", "h", initial="72")
    turnround_hours = Figure("Emptying, cleaning, setting", "h", initial="6")
    mash_interval_hours = Figure("From mash to mash", "h", initial="12")

    def work(self, given: dict[str, Any]) -> Answer:
        held = given["ferment_hours"] + given["turnround_hours"]
        needed = washbacks_needed(**given)
        return Answer(
            facts=(
                result("Washbacks needed", needed, "", 0),
                result("One is held for", held, "h", 1),
                result("Room to spare", needed * given["mash_interval_hours"] - held, "h", 1),
            ),
            steps=(
                ChainStep(
                    "Held over interval",
                    held / given["mash_interval_hours"],
                    "",
                    "(fermentation + turnround) / interval, rounded up",
                    "arithmetic",
                ),
            ),
            notes=("Published example: 84 and 6 hours at a mash every 12 hours take 8 (computed).",),
        )


DRY_MATTER = "pressed 28 %, cream 20 %: Whisky Magazine, Yeast use; dried 94 %: from memory"


def _limit(over: str) -> UsualFigure:
    row = usual_figure(f"carbon dioxide limit, {over}", books_today())
    if row is None or row.expected_millionths is None:
        raise Refusal("lpa", f"No limit of carbon dioxide over {over} is set: the manager enters it with its source.")
    return row


def _ppm(row: UsualFigure) -> float:
    return (row.expected_millionths or 0) / ONE
