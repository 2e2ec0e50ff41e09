"""Change of owner of casks: from whom to whom, and by which paper. Nothing moves and no alcohol is posted.

A warehousekeeper's records name the owner of each lot and every change of owner (Excise Warehousing (Etc.) Regulations
1988, schedule 2 (n)).
"""

from __future__ import annotations

from batches.casks.standing import before_all
from batches.sheets import fields
from batches.sheets.sheet import Moment, Note, OfCasks, Phase, Problem, Rows, Section, Sheet
from batches.sheets.typed.completed import Completed
from distillery.plant.models import Kind as VesselKind

LONGEST_OWNER = 80


def two_owners(written: Completed) -> list[Problem]:
    """Casks pass from one owner to another."""
    owner = written.text("to_owner")
    if written.text("from_owner").casefold() != owner.casefold():
        return []
    return [Problem("to_owner", None, f"{owner} stands on both sides: name who had the casks and who has them now.")]


def to_look_at(written: Completed) -> list[Note]:
    """Casks that belong to somebody else by the books."""
    sold_by = written.text("from_owner")
    codes = [line.vessel("cask").code for line in written.rows]
    stood = before_all(codes, written.moment("at"), without=written.number)
    notes = []
    for index, code in enumerate(codes):
        owner = stood[code].owner if code in stood else ""
        if owner and owner.casefold() != sold_by.casefold():
            notes.append(Note("cask", index, f"Cask {code} is {owner}'s by the books, not {sold_by}'s."))
    return notes


SHEET = Sheet(
    kind="cask_owner",
    title="Change of owner",
    plural="Changes of owner",
    operation="change of owner",
    table="cask_owners",
    prefix="OW",
    number_column="change",
    moments=(Moment(name="changed", label="Change of owner", when="at", phase=Phase.MOVE),),
    sections=(
        Section(
            heading="Change of owner",
            items=(
                fields.when("at", "From"),
                fields.text("from_owner", "Owner before", longest=LONGEST_OWNER),
                fields.text("to_owner", "Owner from then on", longest=LONGEST_OWNER),
                fields.text(
                    "to_address", "Address, and VAT number if any", short="Address", longest=200, required=False
                ),
                fields.name("document", "Paper it rests on", found_as="document", required=False),
            ),
        ),
    ),
    rows=Rows(
        heading="Casks",
        one="cask",
        each="cask",
        items=(fields.vessel("cask", "Cask", VesselKind.CASK),),
    ),
    list_columns=("at", "from_owner", "to_owner", "document"),
    after="cask_move",
    of_casks=OfCasks(cask="cask", owner="to_owner", told=("from_owner", "document")),
    printed_title="Change of owner of casks",
    check=two_owners,
    note=to_look_at,
)
