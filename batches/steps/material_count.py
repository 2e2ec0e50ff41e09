"""Count of materials: what was found of each lot, with why it is not what the book says. It waits for a second person.

The book of a lot is brought to what was found; what a later entry changes before the count, the count takes up again.
"""

from __future__ import annotations

from batches.sheets import fields
from batches.sheets.sheet import Material, Moment, Phase, Problem, Rows, Section, Sheet
from batches.sheets.typed.completed import Completed
from batches.steps.shared.materials import amounts_fit, received_here, weight_or_pieces, which_material


def to_be_right(written: Completed) -> list[Problem]:
    """Amounts that fit their material, of lots that have a book."""
    return [*amounts_fit(written), *received_here(written)]


SHEET = Sheet(
    kind="material_count",
    title="Count of materials",
    plural="Counts of materials",
    operation="material count",
    table="material_counts",
    prefix="CM",
    number_column="count",
    moments=(Moment(name="counted", label="Count", when="counted_at", phase=Phase.COUNT),),
    sections=(
        Section(
            heading="Count",
            items=(
                fields.when("counted_at", "Counted at"),
                fields.text("place", "Place", longest=60, required=False),
            ),
        ),
    ),
    rows=Rows(
        heading="Lots found",
        one="lot",
        each="lot",
        items=(
            which_material(),
            fields.name("lot", "Lot", lot=True),
            *weight_or_pieces("Found"),
            fields.text("reason", "Reason for a difference", short="Reason", longest=200),
        ),
    ),
    list_columns=("counted_at", "place"),
    after="material_disposal",
    second_person=True,
    counts=(Material(field="lot", kind_from="material", weighed="kilograms", counted="pieces"),),
    printed_title="Count of materials",
    check=to_be_right,
)
