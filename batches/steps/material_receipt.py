"""Receipt of materials: yeast, botanicals, charcoal, casks bought, bottles and closures, each by its lot.

A weight of yeast can be checked only where its form is stated: pressed cake holds about 28 % of dry matter, cream about
20 %, dried yeast 93 to 95 % (the last from memory, no source). A cask is a piece here until it has a number.
"""

from __future__ import annotations

from batches.sheets import fields
from batches.sheets.cautions import HEAVY_LOADS
from batches.sheets.sheet import (
    Field,
    Kind,
    Material,
    MaterialKind,
    Moment,
    Note,
    Phase,
    Problem,
    Rows,
    Section,
    Sheet,
)
from batches.sheets.typed.completed import Completed
from batches.steps.shared.materials import MATERIALS, amounts_fit, kind_of, weight_or_pieces, which_material
from batches.stores.book import lot_meant

RECEIVED = tuple(one for one in MATERIALS if one != MaterialKind.MALT)
PRESSED, CREAM, DRIED = "pressed", "cream", "dried"
# Dry matter of each form, % by mass, from and to.
DRY_MATTER = {PRESSED: (26, 30), CREAM: (17, 23), DRIED: (92, 96)}


def to_be_right(written: Completed) -> list[Problem]:
    """Amounts that fit their material, a form for yeast, and one name for a lot."""
    problems = list(amounts_fit(written))
    for row, line in enumerate(written.rows):
        kind, code = kind_of(line), line.text("lot")
        if kind is MaterialKind.YEAST and not line.has("yeast_form"):
            said = (
                f"Yeast of lot {code} has no form; write {PRESSED}, {CREAM} or {DRIED}: its weight says little alone."
            )
            problems.append(Problem("yeast_form", row, said))
        lot = lot_meant(kind, code)
        if lot is not None and lot.is_here and lot.name.casefold() != line.text("what").casefold():
            standing = lot.entries.standing().exclude(version__record__number=written.number)
            if standing.filter(act="received").exists():
                said = f"Lot {code} is {lot.name} already; give this one a lot number of its own."
                problems.append(Problem("lot", row, said))
    return problems


def to_look_at(written: Completed) -> list[Note]:
    """Dry matter that is unlikely for the form of the yeast."""
    notes = []
    for row, line in enumerate(written.rows):
        if not (line.has("yeast_form") and line.has("dry_matter_percent")):
            continue
        least, most = DRY_MATTER[line.text("yeast_form")]
        if not least <= line.decimal("dry_matter_percent") <= most:
            form, found = line.text("yeast_form"), line.decimal("dry_matter_percent")
            said = f"Dry matter is {found:f} %; {form} yeast usually holds {least} to {most} %."
            notes.append(Note("dry_matter_percent", row, said))
    return notes


SHEET = Sheet(
    kind="material_receipt",
    title="Material receipt",
    plural="Material receipts",
    operation="material receipt",
    table="material_receipts",
    prefix="MR",
    number_column="receipt",
    moments=(Moment(name="received", label="Delivery", when="received_at", phase=Phase.DELIVERY),),
    sections=(
        Section(
            heading="Delivery",
            items=(
                fields.when("received_at", "Received at"),
                fields.name("supplier", "Supplier", required=False),
                fields.name("delivery_note", "Delivery note", found_as="document", required=False),
            ),
        ),
    ),
    rows=Rows(
        heading="Lots",
        one="lot",
        each="lot",
        items=(
            which_material(RECEIVED),
            fields.name("what", "What it is"),
            fields.name("lot", "Lot", lot=True),
            *weight_or_pieces("Received"),
            Field(
                name="yeast_form",
                label="Form of yeast",
                short="Form",
                kind=Kind.CHOICE,
                choices=(PRESSED, CREAM, DRIED),
                required=False,
            ),
            fields.percent("viability_percent", "Viability", unit="%", decimals=0, usual=("85", "100"), required=False),
            fields.percent("dry_matter_percent", "Dry matter", unit="%", required=False),
            fields.name("certificate", "Certificate", found_as="document", required=False),
        ),
    ),
    cautions=(HEAVY_LOADS,),
    list_columns=("received_at", "supplier", "delivery_note"),
    after="intake",
    receives=(Material(field="lot", kind_from="material", weighed="kilograms", counted="pieces", named="what"),),
    printed_title="Receipt of materials",
    check=to_be_right,
    note=to_look_at,
)
