"""Years in a cask: what should be left of what was filled, and what a gauge says it lost a year.

Compounded, never a straight line (`distillery.rules.cask_loss`); the yearly band is the site's for any cask until other
figures are typed. What dry wood takes up in the first year is up to 3 % (common practice, no source).
"""

from __future__ import annotations

from typing import Any, Final

from distillery import figures
from distillery.alcoholometry.errors import OutOfRange, require_finite
from distillery.alcoholometry.gauging.chain import ChainStep
from distillery.bench.answer import Answer, result
from distillery.bench.boxes import BenchForm, Figure, Refusal, amount, beside, percent
from distillery.pages import Fact
from distillery.process.maturing import strength_at_age
from distillery.rules.cask_loss import YearlyBand, yearly_loss_percent
from distillery.rules.in_force import NoRuleInForce, cask_band

HABIT: Final = "common practice, no source"
MOST_YEARS: Final = 100.0


def _years(value: float) -> None:
    if not 0.0 < require_finite(value, "Years") <= MOST_YEARS:
        raise OutOfRange(f"Years are {value:g}: enter more than 0 and at most {MOST_YEARS:g}.")


def _share(value: float) -> None:
    if not 0.0 <= require_finite(value, "The share lost a year") < 100.0:
        raise OutOfRange(f"The share lost a year is {value:g} %: it lies from 0 to under 100.")


class YearsForm(BenchForm):
    """A cask by what was filled into it, and its years."""

    title = "Years in a cask"
    doubtful = "filled_lpa"

    filled_lpa = amount("Held at the fill or the last gauge", "LPA")
    years = Figure("Years since then", "years", check=_years)
    least_percent = Figure("Lost a year, at least", "%", check=_share, help_text="The band that the site has set.")
    most_percent = Figure("Lost a year, at most", "%", check=_share)
    wood_percent = Figure(
        "Taken up by dry wood in the first year", "%", check=_share, initial="0", help_text="0 to 3; 0 after a gauge."
    )
    held_lpa = amount("Held now, by a gauge", "LPA", required=False)
    filled_percent = percent("Strength then", required=False)
    bulk_percent = Figure("Litres lost a year", "%", check=_share, required=False, help_text="For the strength now.")

    def prepare(self) -> None:
        try:
            band = cask_band("", "", self.bench.today).yearly
        except NoRuleInForce:
            return
        self.fields["least_percent"].initial = f"{100 * band.low:g}"
        self.fields["most_percent"].initial = f"{100 * band.high:g}"

    def work(self, given: dict[str, Any]) -> Answer:
        filled, years = given["filled_lpa"], given["years"]
        if not filled:
            raise Refusal("filled_lpa", "This is nothing: enter what the cask held.")
        low, high = given["least_percent"] / 100.0, given["most_percent"] / 100.0
        if low > high:
            raise Refusal("most_percent", "This is less than the least: enter the larger of the two here.")
        band = YearlyBand(low, high)
        left = band.left_after(years, wood_held=given["wood_percent"] / 100.0)
        facts = [
            result("Should hold", filled * left.middle, "LPA", 2),
            Fact("Band", f"{figures.number(filled * left.least, 2)} to {figures.number(filled * left.most, 2)}", "LPA"),
        ]
        held = given["held_lpa"]
        if held is not None:
            facts.append(result("Lost a year", yearly_loss_percent(filled, held, years), "%", 2))
            facts.append(Fact("The gauge beside its band", _beside(held, filled * left.least, filled * left.most)))
        facts += self._strength(given, band.middle)
        return Answer(
            facts=tuple(facts),
            steps=(
                ChainStep("Left at the middle of the band", left.middle, "", "(1 − wood) × (1 − a)^years", HABIT),
                ChainStep("Left at the most a year", left.least, "", "(1 − wood) × (1 − a)^years", HABIT),
                ChainStep("Left at the least a year", left.most, "", "(1 − wood) × (1 − a)^years", HABIT),
            ),
            notes=(
                "Compounded: ten years at 2 % are 18.3 %, not 20.",
                "The band says what is usual and allows nothing; a cask below it is looked at for a leak.",
            ),
        )

    def _strength(self, given: dict[str, Any], lost: float) -> list[Fact]:
        strength, bulk = given["filled_percent"], given["bulk_percent"]
        if strength is None and bulk is None:
            return []
        if strength is None or bulk is None:
            box = "filled_percent" if strength is None else "bulk_percent"
            raise Refusal(box, "The strength now needs the strength then and the litres lost a year: enter this too.")
        with beside("bulk_percent"):
            now = strength_at_age(percent=strength, lpa_share=lost, bulk_share=bulk / 100.0, years=given["years"])
        return [result("Strength now", now, "% vol", 2)]


def _beside(held: float, least: float, most: float) -> str:
    if held < least:
        return f"{figures.number(least - held, 2)} LPA below the least expected"
    return "within it" if held <= most else f"{figures.number(held - most, 2)} LPA above the most expected"
