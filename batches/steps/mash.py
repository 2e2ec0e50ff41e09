"""Mash: grist from a malt lot, three waters, and the wort that went to a washback. No alcohol moves yet.

Usual figures: grist 20 / 70 / 10 husk, grits and flour (common practice, no source); first water about 64 °C at the
mixer, second 65 to 80, third 80 to 95 °C; wort 1.055 to 1.068 at 16 to 22 °C.
"""

from __future__ import annotations

from batches import fields
from batches.cautions import CONFINED_SPACE, GRAIN_DUST, HOT_LIQUOR
from batches.completed import Completed
from batches.malt import left_in_lot
from batches.sheet import Moment, Note, Section, Sheet
from distillery import figures
from distillery.plant.models import Kind as VesselKind


def malt_left(written: Completed) -> list[Note]:
    """More grist than the lot holds is written down all the same: the book of malt may be what is wrong."""
    lot = written.record("malt_lot")
    left = left_in_lot(lot, site=written.site, without=written.number)
    grist = written.decimal("grist_kg")
    if grist <= left:
        return []
    return [
        Note(
            "grist_kg",
            None,
            f"Grist is {grist:f} kg, but the book of lot {lot.number} holds {figures.kilograms(int(left * 1000))} kg.",
        )
    ]


SHEET = Sheet(
    kind="mash",
    title="Mash",
    plural="Mashes",
    operation="mash",
    table="mashes",
    prefix="MA",
    number_column="mash",
    moments=(
        Moment(name="start", label="Start", when="started_at", order=4),
        Moment(name="end", label="End", when="ended_at", order=5),
    ),
    sections=(
        Section(
            heading="Grist",
            items=(
                fields.when("started_at", "Started at"),
                fields.record("malt_lot", "Malt lot", "intake"),
                fields.kilograms("grist_kg", "Grist", low="1", usual=("500", "12000")),
                fields.percent("husk_percent", "Husk", unit="%", usual=("17", "23"), required=False),
                fields.percent("grits_percent", "Grits", unit="%", usual=("65", "75"), required=False),
                fields.percent("flour_percent", "Flour", unit="%", usual=("7", "13"), required=False),
            ),
        ),
        Section(
            heading="Waters",
            moment="end",
            items=(
                fields.litres("water1_litres", "First water", decimals=0, required=False),
                fields.celsius(
                    "water1_celsius", "First water, temperature", high="100", usual=("60", "72"), required=False
                ),
                fields.litres("water2_litres", "Second water", decimals=0, required=False),
                fields.celsius(
                    "water2_celsius", "Second water, temperature", high="100", usual=("65", "80"), required=False
                ),
                fields.litres("water3_litres", "Third water", decimals=0, required=False),
                fields.celsius(
                    "water3_celsius", "Third water, temperature", high="100", usual=("75", "96"), required=False
                ),
            ),
        ),
        Section(
            heading="Wort",
            moment="end",
            items=(
                fields.when("ended_at", "Ended at", not_before="started_at"),
                fields.litres("wort_litres", "Wort", decimals=0),
                fields.gravity("wort_gravity", "Gravity of the wort", usual=("1.050", "1.075")),
                fields.celsius("wort_celsius", "Temperature of the wort", high="100", usual=("14", "25")),
                fields.vessel("washback", "Washback", VesselKind.WASHBACK),
            ),
        ),
    ),
    readings=(
        fields.celsius("celsius", "Temperature", low="0", high="100", usual=("60", "96")),
        fields.gravity("gravity", "Gravity", usual=("1.000", "1.090")),
    ),
    cautions=(HOT_LIQUOR, GRAIN_DUST, CONFINED_SPACE),
    list_columns=("started_at", "malt_lot", "grist_kg", "wort_litres", "wort_gravity", "washback"),
    printed_title="Mash record",
    note=malt_left,
)
