"""What is written of a charge of the third still besides its gauges: its purpose, its botanicals, its product."""

from __future__ import annotations

from typing import Final

from batches.sheets import fields
from batches.sheets.sheet import Field, Rows, Section

MEANT_FOR: Final[tuple[Field, ...]] = (
    fields.litres("charge_water_litres", "Water into the still", usual=("0", "5000"), required=False),
    fields.text(
        "legal_name",
        "Name it is meant for",
        choices=("gin", "distilled gin", "London gin", "vodka"),
        longest=60,
        required=False,
    ),
    fields.text("recipe", "Recipe", required=False),
    fields.record("maceration", "Steeped in", "maceration", required=False),
    fields.count("baskets", "Baskets", usual=("1", "12"), required=False),
    fields.name(
        "charcoal_lot",
        "Charcoal, lot",
        lot=True,
        required=False,
        help="Of charcoal that was used before, its lot alone; a weight is of what is put in fresh.",
    ),
    fields.kilograms("charcoal_kg", "Charcoal", usual=("0", "200"), required=False),
)
PRODUCT_TESTED: Final = Section(
    heading="Product",
    moment="finish",
    items=(
        fields.text("predominant_taste", "Predominant taste", choices=("juniper", "other"), required=False),
        fields.number(
            "product_methanol_g_per_hl",
            "Methanol",
            "g/hL",
            decimals=2,
            high="5000",
            required=False,
            help="Grams for each hectolitre of pure alcohol, where the product was analysed.",
        ),
        fields.number("sweetening_g_per_l", "Sweetening added", "g/L", high="500", required=False),
        fields.text("added", "Added after distilling", choices=("nothing", "water", "other"), required=False),
    ),
)
BOTANICALS: Final = Rows(
    heading="Botanicals by basket",
    one="botanical",
    each="botanical_lot",
    within="basket",
    least=0,
    items=(
        fields.name("botanical_lot", "Lot", lot=True),
        fields.name("botanical", "Botanical"),
        fields.count("basket", "Basket", usual=("1", "12"), required=False),
        fields.kilograms("botanical_kg", "Weight", decimals=3, usual=("0.001", "100")),
    ),
)
