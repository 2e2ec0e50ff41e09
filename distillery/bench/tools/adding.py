"""Questions asked backwards: how much of one liquid brings another to a strength, and how much of two make a vatting.

Alcohol and mass add, bulk litres do not (OIML R 22:1975), so neither answer is a proportion of litres.
"""

from __future__ import annotations

from typing import Any

from django import forms

from distillery.alcoholometry.gauging.chain import ChainStep
from distillery.alcoholometry.gauging.readings import R22
from distillery.alcoholometry.mixing import Part, addition_to_reach, blend, parts_for
from distillery.bench.answer import Answer, NextSum, result
from distillery.bench.boxes import TWO_STANDARD, BenchForm, Refusal, amount, beside, percent, standard
from distillery.bench.cautions import MOVING
from distillery.bench.spread import Input, Values, spread
from distillery.bench.tools.reduction import USUAL_PERCENT, USUAL_SHARE

OF_ONE_HYDROMETER = "hydrometer"


class AddingForm(BenchForm):
    """How much to add, or how much of each to take."""

    title = "How much to add"
    doubtful = "target_percent"
    caution = MOVING

    aim = forms.ChoiceField(
        label="What is asked",
        choices=(("add", "how much of one brings the other there"), ("make", "how much of each makes a volume")),
    )
    percent_1 = percent("First liquid, strength at 20 °C")
    litres_1 = amount("First liquid, there is", "L", required=False, help_text="At 20 °C; for how much to add to it.")
    percent_2 = percent("Second liquid, strength at 20 °C", help_text="0 for water.")
    target_percent = percent("Target strength at 20 °C")
    final_litres20 = amount("Volume to make at 20 °C", "L", required=False, help_text="For how much of each.")
    share_pm = amount("± on the volume", "%", required=False, help_text=TWO_STANDARD)
    percent_pm = amount("± on each strength", "% vol", required=False, help_text=TWO_STANDARD)

    def work(self, given: dict[str, Any]) -> Answer:
        making = given["aim"] == "make"
        box = "final_litres20" if making else "litres_1"
        if not given[box]:
            raise Refusal(box, "This is blank or nothing: enter the litres that the question is about.")
        share_u = standard(given["share_pm"], 100.0 * USUAL_SHARE) / 100.0
        percent_u = standard(given["percent_pm"], USUAL_PERCENT)

        def parts(values: Values) -> tuple[Part, Part]:
            litres, first, second = values
            if not making:
                have = Part(litres, first)
                return have, addition_to_reach(have, added_percent=second, target_percent=given["target_percent"])
            strong, weak = max(first, second), min(first, second)
            of_strong, of_weak = parts_for(
                strong_percent=strong, weak_percent=weak, target=Part(litres, given["target_percent"])
            )
            return (of_strong, of_weak) if first >= second else (of_weak, of_strong)

        def calculate(values: Values) -> Values:
            first, second = parts(values)
            made = blend((first, second))
            return (
                first.litres20,
                first.kilograms,
                second.litres20,
                second.kilograms,
                made.litres20,
                made.kilograms,
                made.lpa,
                made.contraction_litres20,
            )

        def strength(name: str, value: float) -> Input:
            # Water is known to be without alcohol; the strengths count as read with one hydrometer.
            return Input(name, value, "% vol", percent_u if value else 0.0, step=1e-4, source=OF_ONE_HYDROMETER)

        with beside("target_percent"):
            found = spread(
                calculate,
                (
                    Input("Volume", given[box], "L", 0.0 if making else share_u * given[box]),
                    strength("First strength", given["percent_1"]),
                    strength("Second strength", given["percent_2"]),
                ),
            )
        sure = found.standard_uncertainty
        first_litres, first_kg, second_litres, second_kg, litres, kilograms, lpa, contraction = found.values
        blended = {
            "litres_1": f"{first_litres:.2f}",
            "percent_1": f"{given['percent_1']:.12g}",
            "litres_2": f"{second_litres:.2f}",
            "percent_2": f"{given['percent_2']:.12g}",
        }
        return Answer(
            facts=(
                result("Of the first, at 20 °C", first_litres, "L", 2, sure(0)),
                result("Of the first, true mass", first_kg, "kg", 2, sure(1)),
                result("Of the second, at 20 °C", second_litres, "L", 2, sure(2)),
                result("Of the second, true mass", second_kg, "kg", 2, sure(3)),
                result("Makes, at 20 °C", litres, "L", 2, sure(4)),
                result("Makes, true mass", kilograms, "kg", 2, sure(5)),
                result("Pure alcohol", lpa, "LPA", 2, sure(6)),
                result("Contraction, not a loss", contraction, "L", 2, sure(7)),
            ),
            steps=(
                ChainStep("Mass of the first", first_kg, "kg", "litres × density at 20 °C", R22),
                ChainStep("Mass of the second", second_kg, "kg", "mass × (p − p1) / (p2 − p)", R22),
                ChainStep("Mass together", kilograms, "kg", "sum of both", R22),
                ChainStep("Volume together", litres, "L", "mass / density at 20 °C", R22),
            ),
            contributions=found.table((2, "the second", "L"), (0, "the first", "L")),
            notes=(
                "Weigh where you can: weight needs no temperature. Add a part, mix, gauge, then trim.",
                "Where no ± is given, the volume counts as ± 0.3 % and each strength as ± 0.14 % vol.",
            ),
            next_sums=(NextSum("blend", "What the two become", blended),),
        )
