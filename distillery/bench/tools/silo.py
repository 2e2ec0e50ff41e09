"""What a silo of up to four lots comes to: predicted spirit yield and moisture, weighted by mass."""

from __future__ import annotations

from functools import partial
from typing import Any, Final

from distillery.alcoholometry.errors import require_percent
from distillery.alcoholometry.gauging.chain import ChainStep
from distillery.bench.answer import Answer, result
from distillery.bench.boxes import BenchForm, Figure, Refusal, amount, beside
from distillery.process.malt import Portion, blended, expected_lpa

MOST_LOTS: Final = 4
BY_MASS: Final = "arithmetic; by mass is common practice, no source"


class SiloForm(BenchForm):
    """The lots in a silo, and what may be drawn of them."""

    title = "Silo blend"
    doubtful = "kilograms_1"

    def prepare(self) -> None:
        for number in range(1, MOST_LOTS + 1):
            needed, lot = number == 1, f"Lot {number}"
            self.fields[f"kilograms_{number}"] = amount(lot, "kg", required=needed)
            self.fields[f"yield_{number}"] = amount(f"{lot}, predicted spirit yield", "LPA/t", required=needed)
            in_range = partial(require_percent, what=f"Moisture of lot {number}")
            self.fields[f"moisture_{number}"] = Figure(f"{lot}, moisture", "%", check=in_range, required=False)
        self.fields["grist_kg"] = amount("Grist", "kg", required=False, help_text="Drawn as the whole silo is.")

    def work(self, given: dict[str, Any]) -> Answer:
        lots = self._lots(given)
        with beside("kilograms_1"):
            together = blended(Portion(kilograms, given[f"yield_{number}"]) for number, kilograms in lots)
        whole = sum(kilograms for _number, kilograms in lots)
        facts = [
            result("Predicted spirit yield", together, "LPA/t", 1),
            result("Malt", whole, "kg", 1),
        ]
        steps = [ChainStep("Predicted spirit yield", together, "LPA/t", "sum of kg × LPA/t / sum of kg", BY_MASS)]
        if all(given[f"moisture_{number}"] is not None for number, _kilograms in lots):
            moisture = blended(Portion(kilograms, given[f"moisture_{number}"]) for number, kilograms in lots)
            facts.append(result("Moisture", moisture, "%", 2))
            steps.append(ChainStep("Moisture", moisture, "%", "sum of kg × % / sum of kg", BY_MASS))
        if given["grist_kg"]:
            promised = expected_lpa(grist_kilograms=given["grist_kg"], lpa_per_tonne=together)
            facts.append(result("The grist should give", promised, "LPA", 1))
            steps.append(ChainStep("The grist should give", promised, "LPA", "kg / 1000 × LPA/t", BY_MASS))
        return Answer(
            facts=tuple(facts),
            steps=tuple(steps),
            notes=(
                "A predicted spirit yield allows for the losses of the process already: nothing is taken off it again.",
                "A mash draws first in first out, so its own lots may promise another yield than the whole silo: its "
                "record says which were drawn.",
            ),
        )

    def _lots(self, given: dict[str, Any]) -> list[tuple[int, float]]:
        lots = []
        for number in range(1, MOST_LOTS + 1):
            kilograms, predicted = given[f"kilograms_{number}"], given[f"yield_{number}"]
            if kilograms is None and predicted is None and given[f"moisture_{number}"] is None:
                continue
            if kilograms is None:
                raise Refusal(f"kilograms_{number}", f"Lot {number} has no weight: enter its kilograms.")
            if predicted is None:
                raise Refusal(f"yield_{number}", f"Lot {number} has no predicted spirit yield: enter it.")
            lots.append((number, kilograms))
        return lots
