"""Malt intake: one delivery, its lot and the maltster's analysis. No alcohol moves; the book of malt starts here.

Usual figures: moisture at most 4.5 %, nitrogen about 1.4 to 1.65 %, soluble extract (coarse grind, as is) 77 % or more,
fermentability 87 % or more, predicted spirit yield about 405 to 420 litres of pure alcohol a tonne (maltsters'
published specifications for distilling malt). An extract says little without its basis and its grind: dry instead of
as is is 4 to 5 % more, and coarse is lower than fine.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from batches.distilling.promised import AS_IS, DRY, EXTRACT, FERMENTABILITY, MOISTURE, YIELD, yield_by_analysis
from batches.sheets import fields
from batches.sheets.cautions import CONFINED_SPACE, GRAIN_DUST
from batches.sheets.sheet import (
    Field,
    Kind,
    Material,
    MaterialKind,
    Moment,
    Note,
    Phase,
    Problem,
    Section,
    Sheet,
    ToldBy,
)
from batches.sheets.typed.completed import Completed
from distillery.process.malt import net_kilograms

CEREALS = ("barley", "wheat", "rye", "oats", "maize", "triticale")
# Divisions of a weighbridge are 20 kg (common practice, no source); a net further off was not worked out from them.
WEIGHBRIDGE_KILOGRAMS = Decimal(20)
# How far a yield that is given may be from that of the analysis, as a share (common practice, no source).
YIELD_APART = 0.02
ANALYSED = (EXTRACT, FERMENTABILITY, "phenol_ppm")


def extract_has_its_basis(written: Completed) -> list[Problem]:
    """An extract without basis or grind cannot be compared with any other; a lorry empty weighs less than full."""
    problems = []
    if written.has(EXTRACT):
        for name, said in (("extract_basis", "as is or dry"), ("extract_grind", "coarse or fine")):
            if not written.has(name):
                label = written.sheet.field(name).label
                problems.append(Problem(name, None, f"{label} is blank; the certificate says whether it is {said}."))
    if written.has("gross_kilograms") and written.has("tare_kilograms"):
        gross, tare = written.decimal("gross_kilograms"), written.decimal("tare_kilograms")
        if tare >= gross:
            said = f"The lorry weighs {gross:f} kg full and {tare:f} kg empty: the two are changed about."
            problems.append(Problem("tare_kilograms", None, said))
    return problems


def to_look_at(written: Completed) -> list[Note]:
    """Weights that do not agree, figures without a certificate, a yield that its analysis or contract denies."""
    return [*_weighed(written), *_certified(written), *_yield(written)]


def _weighed(written: Completed) -> Iterator[Note]:
    if not (written.has("gross_kilograms") and written.has("tare_kilograms")):
        return
    net = net_kilograms(gross_kilograms=written.real("gross_kilograms"), tare_kilograms=written.real("tare_kilograms"))
    if abs(Decimal(net) - written.decimal("kilograms")) > WEIGHBRIDGE_KILOGRAMS:
        said = f"Net weight is {written.decimal('kilograms'):f} kg; the lorry full less empty is {net:.0f} kg."
        yield Note("kilograms", None, said)


def _certified(written: Completed) -> Iterator[Note]:
    if any(written.has(name) for name in ANALYSED) and not written.has("certificate"):
        yield Note("certificate", None, "The analysis names no certificate; write its number.")
    if written.has("supplier") and not written.has("supplier_lot"):
        yield Note("supplier_lot", None, "The supplier's lot is blank; nothing leads back to the maltster without it.")


def _yield(written: Completed) -> Iterator[Note]:
    worked_out = yield_by_analysis(
        extract=_real(written, EXTRACT),
        basis=written.text("extract_basis", ""),
        moisture=_real(written, MOISTURE),
        fermentability=_real(written, FERMENTABILITY),
    )
    given = _real(written, YIELD)
    if given is not None and worked_out is not None and abs(given - worked_out) > YIELD_APART * worked_out:
        said = f"Predicted spirit yield is {given:g} LPA/t; extract × fermentability × 6.06 gives {worked_out:.1f}."
        yield Note(YIELD, None, said)
    elif given is None and worked_out is not None:
        said = f"Predicted spirit yield worked out from the analysis: {worked_out:.1f} LPA/t."
        yield Note("extract_basis", None, said)
    least, reached = _real(written, "least_yield_lpa_per_tonne"), given if given is not None else worked_out
    if least is not None and reached is not None and reached < least:
        said = f"Predicted spirit yield is {reached:.1f} LPA/t, below the {least:g} of the contract."
        yield Note("least_yield_lpa_per_tonne", None, said)


def _real(written: Completed, name: str) -> float | None:
    return written.real(name) if written.has(name) else None


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
                fields.name("supplier", "Supplier", required=False),
                fields.name("supplier_lot", "Supplier's lot", lot=True, required=False),
                fields.kilograms("gross_kilograms", "Lorry full", decimals=0, required=False),
                fields.kilograms("tare_kilograms", "Lorry empty", decimals=0, required=False),
                fields.text("cereal", "Cereal", choices=CEREALS, longest=40, required=False),
                fields.name("variety", "Variety", required=False),
                Field(
                    name="crop_year",
                    label="Crop year",
                    kind=Kind.WHOLE,
                    impossible_below=Decimal(1900),
                    impossible_above=Decimal(2200),
                    required=False,
                ),
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
                    help="Litres of pure alcohol a tonne, as malted. Left blank, it is worked out from soluble extract "
                    "and fermentability where both are there.",
                ),
                fields.name("certificate", "Certificate", found_as="document", required=False),
                fields.percent(
                    "soluble_extract_percent", "Soluble extract", unit="%", usual=("75", "85"), required=False
                ),
                Field(
                    name="extract_basis",
                    label="Basis of the extract",
                    short="Basis",
                    kind=Kind.CHOICE,
                    choices=(AS_IS, DRY),
                    required=False,
                ),
                Field(
                    name="extract_grind",
                    label="Grind of the extract",
                    short="Grind",
                    kind=Kind.CHOICE,
                    choices=("coarse", "fine"),
                    required=False,
                ),
                fields.percent(
                    "fermentability_percent", "Fermentability", unit="%", usual=("85", "90"), required=False
                ),
                fields.number("phenol_ppm", "Phenols", "ppm", high="1000", usual=("0", "60"), required=False),
                fields.number(
                    "least_yield_lpa_per_tonne",
                    "Least yield by contract",
                    "LPA/t",
                    usual=("380", "440"),
                    required=False,
                ),
            ),
        ),
    ),
    cautions=(GRAIN_DUST, CONFINED_SPACE),
    list_columns=("received_at", "kind", "kilograms", "predicted_spirit_yield_lpa_per_tonne", "silo"),
    after="opening_bottled_stock",
    receives=(
        Material(
            field="",
            weighed="kilograms",
            kind=MaterialKind.MALT,
            named="kind",
            put_in="silo",
            blends=(MOISTURE, "nitrogen_percent", YIELD),
        ),
    ),
    traced_as="malt lot",
    needed_in_log=True,
    tells=("kind", "kilograms", YIELD, MOISTURE, EXTRACT, "extract_basis", FERMENTABILITY),
    printed_title="Malt intake",
    check=extract_has_its_basis,
    note=to_look_at,
)
