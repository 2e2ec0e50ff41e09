"""Sums of the still house by hand: strength of a charge, where recycled feints settle, yield of a period."""

from __future__ import annotations

from typing import Any

from distillery import figures
from distillery.alcoholometry.gauging.chain import ChainStep
from distillery.bench.answer import Answer, NextSum, result
from distillery.bench.boxes import BenchForm, Figure, amount, beside, percent, standard
from distillery.bench.cautions import MOVING
from distillery.bench.spread import Input, Values, spread
from distillery.clock.reading import books_today
from distillery.pages import Fact
from distillery.plant.models import MICRO
from distillery.process.distilling import Part, charge_percent
from distillery.process.recycling import (
    Shares,
    charges_to_settle,
    first_charges,
    steady,
    yield_efficiency_percent,
    yield_lpa_per_tonne,
)
from distillery.rules.in_force import usual_figure

WORKED = "worked out"
# Usual uncertainty where none is given: common practice, no source.
USUAL_SHARE = 0.005
USUAL_PERCENT = 0.1
CHARGES_SHOWN = 8
MOST_CHARGES = 1000
PM_HELP = "Two standard uncertainties; blank takes the usual."


class ChargeForm(BenchForm):
    """Low wines and feints that are to be charged together."""

    title = "Strength of a charge"
    doubtful = "low_wines_litres"
    caution = MOVING

    low_wines_litres = amount("Low wines at 20 °C", "L")
    low_wines_percent = percent("Low wines, strength at 20 °C")
    feints_litres = amount("Foreshots and feints at 20 °C", "L")
    feints_percent = percent("Foreshots and feints, strength at 20 °C")
    share_pm = amount("± on each volume", "%", required=False, help_text=PM_HELP)
    percent_pm = amount("± on each strength", "% vol", required=False, help_text=PM_HELP)

    def work(self, given: dict[str, Any]) -> Answer:
        share_u = standard(given["share_pm"], 100.0 * USUAL_SHARE) / 100.0
        percent_u = standard(given["percent_pm"], USUAL_PERCENT)

        def calculate(values: Values) -> Values:
            wines, wines_percent, feints, feints_percent = values
            parts = Part(wines, wines_percent), Part(feints, feints_percent)
            return charge_percent(parts), parts[0].lpa + parts[1].lpa, wines + feints

        inputs = (
            Input("Low wines", given["low_wines_litres"], "L", share_u * given["low_wines_litres"]),
            Input("Low wines, strength", given["low_wines_percent"], "% vol", percent_u, 1e-4, "hydrometer"),
            Input("Feints", given["feints_litres"], "L", share_u * given["feints_litres"]),
            Input("Feints, strength", given["feints_percent"], "% vol", percent_u, 1e-4, "hydrometer"),
        )
        with beside("low_wines_litres"):
            found = spread(calculate, inputs)
        strength, lpa, litres = found.values
        sure = found.standard_uncertainty
        feints_lpa = Part(given["feints_litres"], given["feints_percent"]).lpa
        facts = [
            result("Strength of the charge", strength, "% vol", 2, sure(0)),
            result("Pure alcohol", lpa, "LPA", 1, sure(1)),
            result("Volume, contraction left out", litres, "L", 0, sure(2)),
        ]
        if lpa:
            facts.append(Fact("Feints of its alcohol", figures.percent(100.0 * feints_lpa / lpa), "%"))
        row = usual_figure("strength of a spirit charge", books_today())
        most = row.expected_millionths / MICRO if row is not None and row.expected_millionths is not None else None
        return Answer(
            facts=tuple(facts),
            steps=(ChainStep("Strength", strength, "% vol", "100 × sum of LPA / sum of litres", WORKED),),
            contributions=found.table((0, "the strength", "% vol")),
            remarks=(f"Not under {figures.percent(most)} % vol: oils do not part, and the cut cannot be judged.",)
            if most is not None and strength >= most
            else (),
            notes=(
                "By volume; two liquids of 20 to 36 % vol contract by less than a reading tells.",
                "Where no ± is given, each volume counts as ± 1 % and each strength as ± 0.2 % vol.",
            ),
        )


class SteadyForm(BenchForm):
    """Low wines a charge, and what of a charge comes back or is lost."""

    title = "Where feints settle"
    doubtful = "recycled_percent"

    low_wines_lpa = amount("Low wines in each charge", "LPA")
    recycled_percent = Figure("Comes back as foreshots and feints", "%", help_text="Of the alcohol charged.")
    lost_percent = Figure("Left in spent lees, or lost", "%", help_text="Of the alcohol charged.", initial="0.5")
    feints_lpa = amount("In the feints receiver now", "LPA", initial="0")

    def work(self, given: dict[str, Any]) -> Answer:
        with beside("recycled_percent"):
            shares = Shares(recycled=given["recycled_percent"] / 100.0, lost=given["lost_percent"] / 100.0)
        with beside("low_wines_lpa"):
            settled = steady(low_wines_lpa=given["low_wines_lpa"], shares=shares)
        first = first_charges(
            CHARGES_SHOWN,
            low_wines_lpa=given["low_wines_lpa"],
            shares=shares,
            recycled_lpa=given["feints_lpa"],
        )
        number = charges_to_settle(shares.recycled)
        return Answer(
            facts=(
                Fact("Each charge, once settled", figures.number(settled.charge_lpa, 1), "LPA"),
                Fact("Foreshots and feints, once settled", figures.number(settled.recycled_lpa, 1), "LPA"),
                Fact("Spirit of a charge, once settled", figures.number(settled.spirit_lpa, 1), "LPA"),
                Fact(
                    "Lees and loss, once settled",
                    figures.number(settled.lost_lpa, 1),
                    "LPA",
                    note=f"{figures.percent(settled.lost_percent_of_fresh, 2)} % of the fresh low wines",
                ),
                Fact("Charges until within 1 % of it", figures.count(min(number, MOST_CHARGES))),
                Fact(
                    f"Spirit of the next {CHARGES_SHOWN} charges",
                    ", ".join(figures.number(one.spirit_lpa, 1) for one in first),
                    "LPA",
                ),
            ),
            steps=(
                ChainStep("Charge", settled.charge_lpa, "LPA", "low wines / (1 − share that comes back)", WORKED),
                ChainStep("Distance from it after n charges", shares.recycled, "", "share to the power n", WORKED),
            ),
            notes=("Until it has settled a yield says little: show the change of the feints beside it.",),
        )


class PeriodYieldForm(BenchForm):
    """Spirit made, feints at both ends, and the malt."""

    title = "Yield of a period"
    doubtful = "malt_kilograms"

    spirit_lpa = amount("Spirit made", "LPA")
    feints_open_lpa = amount("Opening low wines and feints", "LPA")
    feints_close_lpa = amount("Closing low wines and feints", "LPA")
    malt_kilograms = amount("Malt", "kg")
    predicted = amount("Malt promised", "LPA/t", required=False, help_text="Predicted spirit yield, as is.")
    spirit_pm = amount("± on the spirit", "%", required=False, help_text=PM_HELP)

    def work(self, given: dict[str, Any]) -> Answer:
        share_u = standard(given["spirit_pm"], 100.0 * USUAL_SHARE) / 100.0

        def calculate(values: Values) -> Values:
            spirit, opened, closed, malt = values
            found = yield_lpa_per_tonne(
                spirit_lpa=spirit, feints_open_lpa=opened, feints_close_lpa=closed, malt_kilograms=malt
            )
            return (found, spirit + closed - opened)

        inputs = (
            Input("Spirit made", given["spirit_lpa"], "LPA", share_u * given["spirit_lpa"]),
            Input("Opening feints", given["feints_open_lpa"], "LPA", USUAL_SHARE * given["feints_open_lpa"]),
            Input("Closing feints", given["feints_close_lpa"], "LPA", USUAL_SHARE * given["feints_close_lpa"]),
            Input("Malt", given["malt_kilograms"], "kg", 0.001 * given["malt_kilograms"]),
        )
        with beside("malt_kilograms"):
            found = spread(calculate, inputs)
        reached, made = found.values
        sure = found.standard_uncertainty
        facts = [
            result("Yield", reached, "LPA/t", 1, sure(0)),
            result("Spirit and change of feints", made, "LPA", 1, sure(1)),
        ]
        if given["predicted"]:
            efficiency = yield_efficiency_percent(
                yield_lpa_per_tonne=reached, predicted_lpa_per_tonne=given["predicted"]
            )
            share = efficiency / reached if reached else 0.0
            facts.append(result("Of what the malt promised", efficiency, "%", 2, share * sure(0)))
        return Answer(
            facts=tuple(facts),
            steps=(ChainStep("Yield", reached, "LPA/t", "1000 × (spirit + closing − opening feints) / malt", WORKED),),
            contributions=found.table((0, "the yield", "LPA/t")),
            notes=(
                "After a change of cut, a shut-down or a first fill the feints need about seven charges to settle.",
                "Where no ± is given, the spirit counts as ± 1 %; feints always as ± 1 %, malt as ± 0.2 %.",
            ),
            next_sums=(NextSum("steady", "Where the feints settle", {"feints_lpa": f"{given['feints_close_lpa']:g}"}),),
        )
