"""Botanicals for a charge: the weights a recipe asks for, whole and by basket, and what they come to in the still.

Formulas: `distillery.process.compounding`; grams for each litre of pure alcohol, equal parts by basket (common
practice, no source), published loads of 20 to 35 grams a litre at still strength (theginisin.com).
"""

from __future__ import annotations

from typing import Any, Final

from django import forms

from distillery.alcoholometry.gauging.chain import ChainStep
from distillery.bench.answer import Answer, result
from distillery.bench.boxes import BenchForm, Refusal, amount, beside, percent
from distillery.process import compounding

HABIT: Final = "common practice, no source"
# Published loads at still strength, grams a litre: theginisin.com.
LOW_LOAD, HIGH_LOAD = 20.0, 35.0
MOST_BASKETS = 24


class BotanicalsForm(BenchForm):
    """How much of all botanicals, or of one of them."""

    title = "Botanicals for a charge"
    doubtful = "grams_per_lpa"

    grams_per_lpa = amount("Recipe, for each LPA", "g", help_text="Of all botanicals together, or of one of them.")
    charge_litres = amount("Charge at 20 °C", "L", help_text="As it stands in the still, its water included.")
    charge_percent = percent("Its strength at 20 °C")
    baskets = forms.IntegerField(label="Baskets", min_value=1, max_value=MOST_BASKETS, initial=1, required=False)

    def work(self, given: dict[str, Any]) -> Answer:
        if not given["charge_litres"]:
            raise Refusal("charge_litres", "This is blank or nothing: enter the litres of the charge.")
        baskets = given["baskets"] or 1
        with beside("grams_per_lpa"):
            lpa = compounding.charge_lpa(litres=given["charge_litres"], percent=given["charge_percent"])
            whole = compounding.botanical_kilograms(grams_per_lpa=given["grams_per_lpa"], lpa=lpa)
            each = compounding.kilograms_per_basket(kilograms=whole, baskets=baskets)
            load = compounding.grams_a_litre(kilograms=whole, litres=given["charge_litres"])
        within = "within" if LOW_LOAD <= load <= HIGH_LOAD else "outside"
        return Answer(
            facts=(
                result("In all", whole, "kg", 3),
                result("In each basket", each, "kg", 3),
                result("In the still", load, "g/L", 1),
                result("Pure alcohol of the charge", lpa, "LPA", 2),
            ),
            steps=(
                ChainStep("Pure alcohol", lpa, "LPA", "litres × strength / 100", HABIT),
                ChainStep("In all", whole, "kg", "grams for each LPA × LPA / 1000", HABIT),
                ChainStep("In each basket", each, "kg", "in all / baskets", HABIT),
                ChainStep("In the still", load, "g/L", "in all / litres of the charge", HABIT),
            ),
            notes=(
                f"{load:.1f} g/L is {within} the published 20 to 35 g/L at still strength (theginisin.com).",
                "A basket more than 2 % from the mean of all is uneven: common practice, no source.",
            ),
        )
