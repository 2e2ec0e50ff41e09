"""Blend up to six parts: alcohol and mass add, bulk litres do not (OIML R 22:1975)."""

from __future__ import annotations

from typing import Any

from distillery.alcoholometry.gauging.chain import ChainStep
from distillery.alcoholometry.gauging.readings import R22
from distillery.alcoholometry.mixing import Part, blend
from distillery.bench.answer import Answer, result
from distillery.bench.boxes import TWO_STANDARD, BenchForm, Refusal, amount, percent, standard
from distillery.bench.cautions import MOVING, flash_point_note
from distillery.bench.spread import Input, Values, spread
from distillery.bench.tools.reduction import USUAL_PERCENT, USUAL_SHARE

MOST_PARTS = 6
OF_ONE_HYDROMETER = "hydrometer"


class BlendForm(BenchForm):
    """Parts and what they become."""

    title = "Blend"
    doubtful = "litres_1"
    caution = MOVING

    def prepare(self) -> None:
        for number in range(1, MOST_PARTS + 1):
            needed = number == 1
            self.fields[f"litres_{number}"] = amount(f"Part {number}, at 20 °C", "L", required=needed)
            self.fields[f"percent_{number}"] = percent(f"Part {number}, strength", required=needed)
        self.fields["share_pm"] = amount("± on each volume", "%", required=False, help_text=TWO_STANDARD)
        self.fields["percent_pm"] = amount("± on each strength", "% vol", required=False, help_text=TWO_STANDARD)

    def work(self, given: dict[str, Any]) -> Answer:
        parts = self._parts(given)
        share_u = standard(given["share_pm"], 100.0 * USUAL_SHARE) / 100.0
        percent_u = standard(given["percent_pm"], USUAL_PERCENT)
        inputs = []
        for number, part in parts:
            inputs.append(Input(f"Volume of part {number}", part.litres20, "L", share_u * part.litres20))
            inputs.append(
                Input(
                    f"Strength of part {number}",
                    part.percent20,
                    "% vol",
                    # Water is known to be without alcohol.
                    percent_u if part.percent20 else 0.0,
                    source=OF_ONE_HYDROMETER,
                )
            )

        def calculate(values: Values) -> Values:
            made = blend(Part(values[n], values[n + 1]) for n in range(0, len(values), 2))
            return made.litres20, made.percent20, made.kilograms, made.lpa, made.contraction_litres20

        found = spread(calculate, inputs)
        litres, strength, kilograms, lpa, contraction = found.values
        sure = found.standard_uncertainty
        return Answer(
            facts=(
                result("Pure alcohol", lpa, "LPA", 2, sure(3)),
                result("Volume at 20 °C", litres, "L", 2, sure(0)),
                result("Strength at 20 °C", strength, "% vol", 2, sure(1)),
                result("True mass", kilograms, "kg", 3, sure(2)),
                result("Contraction, not a loss", contraction, "L", 2, sure(4)),
            ),
            steps=(
                *(
                    ChainStep(f"Mass of part {number}", part.kilograms, "kg", "litres × density at 20 °C", R22)
                    for number, part in parts
                ),
                ChainStep("Mass together", kilograms, "kg", "sum of the parts", R22),
                ChainStep("Strength", strength, "% vol", "alcohol × 789.24 / mass, as % vol", R22),
                ChainStep("Volume", litres, "L", "mass / density at 20 °C", R22),
            ),
            contributions=found.table((3, "the alcohol", "LPA"), (1, "the strength", "% vol")),
            notes=(
                "The strengths count as read with one hydrometer: its error is common to all parts and adds with sign.",
                "Where no ± is given, each volume counts as ± 0.3 % and each strength as ± 0.14 % vol.",
                *flash_point_note(strength),
            ),
        )

    def _parts(self, given: dict[str, Any]) -> list[tuple[int, Part]]:
        parts = []
        for number in range(1, MOST_PARTS + 1):
            litres, strength = given[f"litres_{number}"], given[f"percent_{number}"]
            if litres is None and strength is None:
                continue
            if litres is None:
                raise Refusal(f"litres_{number}", f"Part {number} has a strength but no volume: enter its litres.")
            if strength is None:
                raise Refusal(f"percent_{number}", f"Part {number} has no strength: enter it, 0 for water.")
            parts.append((number, Part(litres, strength)))
        return parts
