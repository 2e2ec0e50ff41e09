"""Disposal of materials: what left the stores without being used, where it went and why."""

from __future__ import annotations

from batches.sheets import fields
from batches.sheets.cautions import GRAIN_DUST, HEAVY_LOADS
from batches.sheets.sheet import Material, Moment, Phase, Problem, Rows, Section, Sheet
from batches.sheets.typed.completed import Completed
from batches.steps.shared.materials import amounts_fit, received_here, weight_or_pieces, which_material


def to_be_right(written: Completed) -> list[Problem]:
    """Amounts that fit their material, of lots that have a book."""
    return [*amounts_fit(written), *received_here(written)]


SHEET = Sheet(
    kind="material_disposal",
    title="Disposal of materials",
    plural="Disposals of materials",
    operation="material disposal",
    table="material_disposals",
    prefix="DM",
    number_column="disposal",
    moments=(Moment(name="disposed", label="Disposal", when="disposed_at", phase=Phase.MOVE),),
    sections=(
        Section(
            heading="Disposal",
            items=(
                fields.when("disposed_at", "Disposed of at"),
                fields.name("went_to", "Went to"),
            ),
        ),
    ),
    rows=Rows(
        heading="Lots",
        one="lot",
        each="lot",
        items=(
            which_material(),
            fields.name("lot", "Lot", lot=True),
            *weight_or_pieces("Disposed of"),
            fields.text("reason", "Reason", longest=200),
        ),
    ),
    cautions=(GRAIN_DUST, HEAVY_LOADS),
    list_columns=("disposed_at", "went_to"),
    after="removal",
    materials=(Material(field="lot", kind_from="material", weighed="kilograms", counted="pieces"),),
    printed_title="Disposal of materials",
    check=to_be_right,
)
