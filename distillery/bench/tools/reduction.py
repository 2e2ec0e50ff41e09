"""Reduce a vat: water by mass and by volume for a strength, a final volume or a vessel filled, and how to get there.

All litres and strengths at 20 °C, by OIML R 22:1975; the water is weighed or metered, never found by proportion of
volumes. Most of it goes in first, then the vat is gauged again and trimmed (common practice, no source).
"""

from __future__ import annotations

from typing import Any

from django import forms

from distillery.alcoholometry.errors import OutOfRange
from distillery.alcoholometry.gauging.chain import ChainStep
from distillery.alcoholometry.gauging.readings import R22
from distillery.alcoholometry.mixing import (
    Part,
    Reduction,
    reduce_to_capacity,
    reduce_to_strength,
    reduce_to_volume,
    reduce_with_water,
)
from distillery.alcoholometry.weighing import kilograms_in_air
from distillery.bench.answer import Answer, Carry, NextSum, result
from distillery.bench.boxes import TWO_STANDARD, BenchForm, Refusal, amount, beside, percent, standard, temperature
from distillery.bench.cautions import REDUCING
from distillery.bench.spread import Input, Values, spread

USUAL_PERCENT = 0.07
USUAL_SHARE = 0.0015
AIMS = {"strength": "target_percent", "volume": "final_litres20", "capacity": "capacity_litres"}


def _first_share(value: float) -> None:
    if not 0.0 < value < 100.0:
        raise OutOfRange(f"A first share of {value:g} % leaves nothing to trim: choose one between 0 and 100.")


class ReductionForm(BenchForm):
    """Water to a vat."""

    title = "Reduce a vat"
    doubtful = "target_percent"
    caution = REDUCING

    litres20 = amount("In the vat, at 20 °C", "L")
    percent20 = percent("Its strength at 20 °C")
    aim = forms.ChoiceField(
        label="Bring it to",
        choices=(("strength", "a strength"), ("volume", "a final volume"), ("capacity", "a full vessel")),
    )
    target_percent = percent("Target strength", required=False)
    final_litres20 = amount("Final volume at 20 °C", "L", required=False)
    capacity_litres = amount("The vessel holds", "L", required=False)
    celsius = temperature("Temperature of the mixture", initial="20", required=False, help_text="For a full vessel.")
    water_celsius = temperature("Temperature of the water", initial="20", required=False, help_text="For a meter.")
    first_share = amount("Water in the first addition", "%", check=_first_share, initial="95", required=False)
    litres_pm = amount("± on the volume", "L", required=False, help_text=TWO_STANDARD)
    percent_pm = amount("± on the strength", "% vol", required=False, help_text=TWO_STANDARD)

    def work(self, given: dict[str, Any]) -> Answer:
        box = AIMS[given["aim"]]
        if given[box] is None:
            raise Refusal(box, f"{self.fields[box].label} is blank: it is what the vat is to be brought to.")
        start = Part(given["litres20"], given["percent20"])
        if start.litres20 == 0:
            raise Refusal("litres20", "There is nothing in the vat to reduce: gauge it and enter its litres.")
        if start.percent20 == 0:
            raise Refusal("percent20", "There is no alcohol in the vat to reduce: gauge it and enter its strength.")
        with beside(box):
            whole = self._reduced(start, given)
        share = (95.0 if given["first_share"] is None else given["first_share"]) / 100.0
        first = reduce_with_water(start, water_kilograms=whole.water_kilograms * share)
        volume_u = standard(given["litres_pm"], USUAL_SHARE * start.litres20)
        strength_u = standard(given["percent_pm"], USUAL_PERCENT)
        found = spread(
            lambda values: self._outcome(values, given, whole),
            (
                Input("Volume in the vat", start.litres20, "L", volume_u),
                Input("Its strength", start.percent20, "% vol", strength_u, step=1e-4),
            ),
        )
        sure = found.standard_uncertainty
        metered = 20.0 if given["water_celsius"] is None else given["water_celsius"]
        per_kg = whole.water_litres(metered) / whole.water_kilograms if whole.water_kilograms else 0.0
        expected = {"litres20": f"{first.litres20:.2f}", "percent20": f"{first.percent20:.3f}", "aim": given["aim"]}
        expected |= {name: f"{given[name]:.12g}" for name in AIMS.values() if given[name] is not None}
        return Answer(
            facts=(
                result("Water by weight, as the scale shows it", whole.water_kilograms_in_air, "kg", 2, sure(0)),
                result("Water by true mass", whole.water_kilograms, "kg", 2, sure(0)),
                result("Water by volume at 20 °C", whole.water_litres20, "L", 2, sure(1)),
                result(f"Water by a meter at {metered:g} °C", whole.water_litres(metered), "L", 2, sure(0) * per_kg),
                result("Final volume at 20 °C", whole.litres20, "L", 2, sure(2)),
                result("Final strength at 20 °C", whole.percent20, "% vol", 2, sure(4)),
                result("Contraction, not a loss", whole.contraction_litres20, "L", 2, sure(3)),
                result("Pure alcohol, unchanged", start.lpa, "LPA", 2, sure(5)),
                result("Add first, as the scale shows it", first.water_kilograms_in_air, "kg", 2),
                result("then mix and gauge: expect", first.litres20, "L", 1, sure(6)),
                result("at a strength of", first.percent20, "% vol", 2, sure(7)),
                result("Kept back for the trim", _in_air(whole.water_kilograms - first.water_kilograms), "kg", 2),
            ),
            steps=(
                ChainStep("Mass in the vat", start.kilograms, "kg", "litres × density at 20 °C", R22),
                ChainStep("Mass after", start.kilograms + whole.water_kilograms, "kg", "mass + water", R22),
                ChainStep("Final volume", whole.litres20, "L", "mass after / density at 20 °C", R22),
                ChainStep("Contraction", whole.contraction_litres20, "L", "vat + water − final volume", R22),
            ),
            contributions=found.table((0, "the water", "kg"), (4, "the final strength", "% vol")),
            notes=(
                "The ± of the final strength is that of the vat once exactly this water is in it.",
                "Where no ± is given, the volume counts as ± 0.3 % and the strength as ± 0.14 % vol.",
                "Fill to the final weight or volume rather than trust the water alone; trim from a new gauge.",
            ),
            carries=(
                Carry(
                    "reduction",
                    "A reduction, with this water",
                    {"water_kg": f"{whole.water_kilograms_in_air:.1f}", "target_percent": f"{whole.percent20:.1f}"},
                ),
            ),
            next_sums=(NextSum("reduce", "Trim: put the new gauge in place of what is expected", expected),),
        )

    def _reduced(self, start: Part, given: dict[str, Any]) -> Reduction:
        if given["aim"] == "volume":
            return reduce_to_volume(start, final_litres20=given["final_litres20"])
        if given["aim"] == "capacity":
            at = 20.0 if given["celsius"] is None else given["celsius"]
            return reduce_to_capacity(start, capacity_litres=given["capacity_litres"], celsius=at)
        return reduce_to_strength(start, target_percent=given["target_percent"])

    def _outcome(self, values: Values, given: dict[str, Any], planned: Reduction) -> Values:
        start = Part(*values)
        plan = self._reduced(start, given)
        share = (95.0 if given["first_share"] is None else given["first_share"]) / 100.0
        done = reduce_with_water(start, water_kilograms=planned.water_kilograms)
        first = reduce_with_water(start, water_kilograms=planned.water_kilograms * share)
        return (
            plan.water_kilograms,
            plan.water_litres20,
            done.litres20,
            plan.contraction_litres20,
            done.percent20,
            start.lpa,
            first.litres20,
            first.percent20,
        )


def _in_air(water_kg: float) -> float:
    return kilograms_in_air(true_kilograms=max(0.0, water_kg), percent20=0.0)
