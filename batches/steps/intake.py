"""Malt intake: one delivery, its lot and the maltster's analysis. No alcohol moves; the malt book starts here.

Usual figures: moisture at most 4.5 %, nitrogen about 1.4 to 1.65 %, predicted spirit yield about 405 to 420 litres
of pure alcohol a tonne (maltsters' published specifications for distilling malt).
"""

from __future__ import annotations

from batches.sheets import fields
from batches.sheets.cautions import CONFINED_SPACE, GRAIN_DUST
from batches.sheets.sheet import Material, MaterialKind, Moment, Phase, Section, Sheet, ToldBy

SHEET = Sheet(
    kind="intake",
    title="Malt intake",
    plural="Malt intakes",
    operation="intake",
    table="intake",
    prefix="M",
    digits=3,
    number_column="lot",
    moments=(Moment(name="received", label="Delivery", when="received_at", phase=Phase.DELIVERY),),
    sections=(
        Section(
            heading="Delivery",
            items=(
                fields.text(
                    "kind",
                    "Kind",
                    choices=("malt", "peated malt"),
                    default="malt",
                    told_by=ToldBy(by_default=True),
                ),
                fields.when("received_at", "Received at"),
                fields.kilograms("kilograms", "Net weight", decimals=0, low="1", usual=("1000", "30000")),
                fields.name("silo", "Silo", required=False),
            ),
        ),
        Section(
            heading="Maltster's analysis",
            items=(
                fields.percent("moisture_percent", "Moisture", unit="%", usual=("3", "5"), required=False),
                fields.percent(
                    "nitrogen_percent", "Nitrogen", unit="%", decimals=2, usual=("1.3", "1.7"), required=False
                ),
                fields.number(
                    "predicted_spirit_yield_lpa_per_tonne",
                    "Predicted spirit yield",
                    "LPA/t",
                    usual=("380", "440"),
                    required=False,
                    help="Litres of pure alcohol a tonne, as malted.",
                ),
            ),
        ),
    ),
    cautions=(GRAIN_DUST, CONFINED_SPACE),
    list_columns=("received_at", "kind", "kilograms", "predicted_spirit_yield_lpa_per_tonne", "silo"),
    after="opening_bottled_stock",
    receives=(Material(field="", weighed="kilograms", kind=MaterialKind.MALT, named="kind", put_in="silo"),),
    traced_as="malt lot",
    needed_in_log=True,
    tells=("kind", "kilograms", "moisture_percent", "predicted_spirit_yield_lpa_per_tonne"),
    printed_title="Malt intake",
)
