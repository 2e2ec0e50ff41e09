"""How the figures of a sheet are measured, in words: its gauges first, then what it reads beside them.

What a gauge goes through is said in `ledger.posting.how_measured`. The rest is told by what a sheet declares: a mash,
gravities, strengths along the way, bottles, loads and materials. The formulas are those of `distillery.process` and
`distillery.alcoholometry`, where each names its source.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from batches.sheets.gauges import By
from batches.sheets.sheet import Sheet
from distillery.alcoholometry.wort import LITRE_DEGREES_PER_PERCENT
from distillery.process.mashing import HEAT_OF_GRIST
from ledger.posting.how_measured import CERTIFICATES, HOW_MEASURED, HowMeasured

WATER: Final = "Tanaka and others, Metrologia 38 (2001) 301-309, density of water"
COMMON: Final = "common practice, no source"

GRAVITY: Final = HowMeasured(
    "A gravity of wort or wash",
    "saccharometer, thermometer",
    (
        "A gravity that is gauged or worked with is brought to 20 °C by the temperature of its sample: reading × the "
        "glass's own expansion × density of water at 20 °C / density of water at t. Wort is taken to swell like water, "
        "which is fair from 10 to 30 °C.",
        "Degrees are 1000 × (relative density − 1).",
    ),
    (WATER, CERTIFICATES),
)
ALONG_THE_WAY: Final = HowMeasured(
    "A strength along the way",
    "hydrometer in the spirit safe, thermometer",
    (
        "It is kept as it was read and guides the run; nothing of it is posted. What a run gave is measured by its "
        "receivers.",
    ),
    (COMMON,),
)
MASH: Final = HowMeasured(
    "A mash",
    "scale of the grist, water meters, thermometer, saccharometer",
    (
        f"The first water needs the temperature of the mash + {HEAT_OF_GRIST:g} / (litres a kg) × (mash − grist), and "
        "what your site has found to be missing.",
        "Extract is litres × degrees at 20 °C, of the wort and of the weak worts left for the next mash less those of "
        f"the last, / kg of grist; / {LITRE_DEGREES_PER_PERCENT:g} makes a percentage of the grist of it.",
        "Extract efficiency is that percentage / the laboratory's extract × 100.",
    ),
    (
        "M. J. Lewis and T. W. Young, Brewing, 2001, heat of the grist",
        f"{100 * LITRE_DEGREES_PER_PERCENT:g} litre-degrees a kg of sucrose at 20 °C, from memory",
        WATER,
    ),
)
LOAD: Final = HowMeasured(
    "A load by weight",
    "weighbridge",
    (
        "Net is the lorry full less the lorry empty.",
        "Moisture, nitrogen and extract are those of the certificate; an extract counts on the basis and grind it was "
        "found on.",
    ),
    (COMMON,),
)
MATERIAL: Final = HowMeasured(
    "Materials by weight or count",
    "scale",
    ("What is weighed is kept in whole grams, what is counted in pieces; the book of each lot adds them up.",),
    (COMMON,),
)
BOTTLES: Final = HowMeasured(
    "Bottled spirit by count",
    "a count of bottles and cases",
    ("Pure alcohol is bottles × contents at 20 °C × strength on the label / 100.",),
    ("the definition of alcoholic strength by volume at 20 °C, Council Directive 76/766/EEC, Annex point 1",),
)
DRAWN: Final = HowMeasured(
    "A sample by volume",
    "measuring cylinder",
    ("Pure alcohol is millilitres × strength / 100, at the strength written.",),
    ("the definition of alcoholic strength by volume at 20 °C, Council Directive 76/766/EEC, Annex point 1",),
)


def how_measured(sheet: Sheet) -> list[HowMeasured]:
    """How all that a sheet asks for is measured, each way once."""
    gauges = (*sheet.gauges, *(sheet.rows.gauges if sheet.rows else ()))
    of_wash = [By.WASH_DIP for one in gauges if one.present_gravity]
    of_casks = [By.VOLUME for one in gauges if one.or_litres]
    named = dict.fromkeys([*(one.by for one in gauges), *of_wash, *of_casks])
    return [*(HOW_MEASURED[one] for one in named), *_beside(sheet)]


def _beside(sheet: Sheet) -> Iterator[HowMeasured]:
    names = {one.name for one in (*sheet.fields, *sheet.row_fields)}
    if {"grist_kg", "wort_gravity"} <= names:
        yield MASH
    if {"gross_kilograms", "tare_kilograms"} <= names:
        yield LOAD
    elif sheet.receives or sheet.counts or "kilograms" in names:
        yield MATERIAL
    if any(one.unit == "relative density" for one in (*sheet.fields, *sheet.readings)):
        yield GRAVITY
    if any(one.unit == "% vol" for one in sheet.readings):
        yield ALONG_THE_WAY
    if {"bottle_centilitres", "bottles"} <= names:
        yield BOTTLES
    if {"millilitres", "percent"} <= names:
        yield DRAWN
