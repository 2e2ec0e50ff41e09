"""Conversions: % vol, % mas, densities, US proof and proof gallons of spirit; Plato and gravity of wort.

Spirit by OIML R 22:1975, US proof by 27 CFR part 30. Without a ± of its own a figure counts as known to half of its
last digit, as a limit of rectangular distribution (JCGM 100:2008, 4.3.7).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import Any

from django import forms

from distillery import figures
from distillery.alcoholometry.proof import (
    LITRES_PER_US_GALLON,
    percent20_of_us_proof,
    proof_gallons_of_lpa,
    us_proof_of_percent20,
)
from distillery.alcoholometry.rounding import US_GALLONS, US_PROOF, RoundingRule
from distillery.alcoholometry.strength import (
    AirDensity,
    VacuumDensity,
    air_density20_of_percent,
    density20_of_percent,
    grams_per_litre,
    percent_mass_of_percent_vol,
    percent_of_air_density20,
    percent_of_density20,
    percent_vol_of_percent_mass,
)
from distillery.alcoholometry.uncertainty import resolution
from distillery.alcoholometry.wort import degrees_of_gravity, gravity_of_plato, plato_of_gravity
from distillery.bench.answer import Answer, result
from distillery.bench.boxes import TWO_STANDARD, BenchForm, Figure, amount, standard
from distillery.bench.spread import Input, Spread, Values, spread
from distillery.pages import Fact


@dataclass(frozen=True, slots=True)
class Scale:
    """A scale a figure can be given on: what the list says, its unit, and the way to the common figure."""

    label: str
    unit: str
    to_common: Callable[[float], float]


SPIRIT = {
    "percent_vol": Scale("Spirit: % vol at 20 °C", "% vol", lambda value: value),
    "percent_mass": Scale("Spirit: % mas", "% mas", percent_vol_of_percent_mass),
    "vacuum": Scale(
        "Spirit: density in vacuum at 20 °C, kg/m³", "kg/m³", lambda value: percent_of_density20(VacuumDensity(value))
    ),
    "air": Scale(
        "Spirit: density in air at 20 °C, kg/m³", "kg/m³", lambda value: percent_of_air_density20(AirDensity(value))
    ),
    "us_proof": Scale("Spirit: US proof at 60 °F", "US proof", percent20_of_us_proof),
}
WORT = {
    "gravity": Scale("Wort: relative density 20/20", "", lambda value: value),
    "plato": Scale("Wort: degrees Plato", "°P", gravity_of_plato),
}
STEP = 1e-4
GRAVITY_STEP = 1e-6


class ConversionForm(BenchForm):
    """One figure on every scale."""

    title = "Conversions"
    doubtful = "value"

    value = Figure("Figure")
    scale = forms.ChoiceField(
        label="It is", choices=[(key, scale.label) for key, scale in (SPIRIT | WORT).items()], initial="percent_vol"
    )
    value_pm = amount("± on the figure", "", required=False, help_text=TWO_STANDARD)
    litres20 = amount("Volume of spirit at 20 °C", "L", required=False)

    def work(self, given: dict[str, Any]) -> Answer:
        scale = (SPIRIT | WORT)[given["scale"]]
        known = standard(given["value_pm"], resolution(last_digit(str(self["value"].value()))))
        step = GRAVITY_STEP if given["scale"] == "gravity" else STEP
        source = Input("The figure", given["value"], scale.unit, known, step)
        if given["scale"] in WORT:
            return _wort(scale, source)
        return _spirit(scale, source, given["litres20"])


def last_digit(typed: str) -> float:
    """What one in the last digit of a figure as typed is worth: 0.1 for '63.5', 1 for '40'."""
    try:
        exponent = Decimal(typed.strip()).as_tuple().exponent
    except InvalidOperation:
        return 0.0
    return float(Decimal(1).scaleb(exponent)) if isinstance(exponent, int) else 0.0


def _spirit(scale: Scale, source: Input, litres20: float | None) -> Answer:
    litres = litres20 or 0.0

    def calculate(values: Values) -> Values:
        percent = scale.to_common(values[0])
        lpa = litres * percent / 100.0
        return (
            percent,
            percent_mass_of_percent_vol(percent),
            density20_of_percent(percent).kg_per_m3,
            air_density20_of_percent(percent).kg_per_m3,
            grams_per_litre(percent),
            us_proof_of_percent20(percent),
            lpa,
            proof_gallons_of_lpa(lpa),
        )

    found = spread(calculate, (source,))
    rows: list[tuple[str, str, int]] = [
        ("Strength at 20 °C", "% vol", 3),
        ("By mass", "% mas", 3),
        ("Density in vacuum at 20 °C", "kg/m³", 2),
        ("Density in air at 20 °C", "kg/m³", 2),
        ("Ethanol in a litre at 20 °C", "g", 2),
        ("US proof at 60 °F", "US proof", 2),
    ]
    if litres20 is not None:
        rows += [("Pure alcohol at 20 °C", "LPA", 3), ("Proof gallons", "US proof gallons", 3)]
    official = US_PROOF.apply(found.values[5])
    facts = (
        *_facts(found, rows),
        Fact("US proof, to the tenth", figures.number(official, 1), "US proof", note=_by(US_PROOF)),
    )
    if litres20 is not None:
        gallons = US_GALLONS.apply(found.values[7])
        facts = (
            *facts,
            Fact("Proof gallons, to the tenth", figures.number(gallons, 1), "US proof gallons", note=_by(US_GALLONS)),
        )
        facts = (*facts, result("Volume at 20 °C in gallons", litres20 / LITRES_PER_US_GALLON, "US gallons", 3))
    return Answer(
        facts=facts,
        contributions=found.table((0, "the strength", "% vol")),
        notes=(
            "% vol here is at 20 °C; US proof is twice the % vol at 60 °F. British proof is another thing.",
            "Without a ± of its own the figure counts as right to half of its last digit.",
        ),
    )


def _by(rule: RoundingRule) -> str:
    return f"as {rule.source} has it; work on with the unrounded figure"


def _wort(scale: Scale, source: Input) -> Answer:
    def calculate(values: Values) -> Values:
        gravity = scale.to_common(values[0])
        return gravity, degrees_of_gravity(gravity), plato_of_gravity(gravity)

    found = spread(calculate, (source,))
    return Answer(
        facts=_facts(found, [("Relative density 20/20", "", 5), ("Gravity", "degrees", 2), ("Extract", "°P", 2)]),
        contributions=found.table((2, "the extract", "°P")),
        notes=(
            "Plato by the cubic fitted to the table of the US National Bureau of Standards, 1.000 to 1.179. It is for "
            "wort: once alcohol is in it, a gravity no longer tells the extract.",
        ),
    )


def _facts(found: Spread, rows: list[tuple[str, str, int]]) -> tuple[Fact, ...]:
    return tuple(
        result(label, found.values[position], unit, places, found.standard_uncertainty(position))
        for position, (label, unit, places) in enumerate(rows)
    )
