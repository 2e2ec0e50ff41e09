"""Numbering of casks: casks bought become vessels of the plant before they are filled, each out of the lot it came in.

A cask is a piece of stock until it has a number, then a vessel, and leaves its lot once: here, or at its first fill.
"""

from __future__ import annotations

from batches.sheets import fields
from batches.sheets.cautions import CASKS
from batches.sheets.declared import NewCask
from batches.sheets.sheet import Material, MaterialKind, Moment, OfCasks, Phase, Problem, Rows, Section, Sheet
from batches.sheets.typed.completed import Completed
from batches.steps.shared.books import full_already
from batches.steps.shared.bought_casks import pieces_already
from batches.steps.shared.places import LONGEST_PLACE, LONGEST_WAREHOUSE
from distillery.plant.models import Kind as VesselKind


def to_be_right(written: Completed) -> list[Problem]:
    """Casks that hold nothing, and that leave their lot once."""
    problems = []
    for row, line in enumerate(written.rows):
        sentence = full_already(line.vessel("cask"), written.moment("at"), written.number)
        if sentence:
            problems.append(Problem("cask", row, sentence))
    return [*problems, *pieces_already(written)]


SHEET = Sheet(
    kind="cask_numbering",
    title="Numbering of casks",
    plural="Numberings of casks",
    operation="cask numbering",
    table="cask_numberings",
    prefix="NC",
    number_column="numbering",
    moments=(Moment(name="numbered", label="Numbering", when="at", phase=Phase.DELIVERY),),
    sections=(Section(heading="Numbering", items=(fields.when("at", "Numbered at"),)),),
    rows=Rows(
        heading="Casks",
        one="cask",
        each="cask",
        items=(
            fields.vessel(
                "cask",
                "Cask",
                VesselKind.CASK,
                new_as=NewCask(kind="cask_kind", litres="nominal_litres", by_log=True),
            ),
            fields.text("cask_kind", "Kind of cask", required=False),
            fields.litres("nominal_litres", "Nominal size", decimals=0, usual=("30", "700"), required=False),
            fields.text("warehouse", "Warehouse", longest=LONGEST_WAREHOUSE, required=False),
            fields.text("row", "Row", longest=LONGEST_PLACE, required=False),
            fields.text("tier", "Tier", longest=LONGEST_PLACE, required=False),
            fields.name("cask_lot", "Bought in lot", lot=True, required=False),
        ),
    ),
    cautions=(CASKS,),
    list_columns=("at",),
    after="material_receipt",
    materials=(Material(field="cask_lot", one_each=True, kind=MaterialKind.CASK),),
    printed_title="Numbering of casks",
    check=to_be_right,
    of_casks=OfCasks(cask="cask", warehouse="warehouse", row="row", tier="tier", told=("cask_lot",)),
)
