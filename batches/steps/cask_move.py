"""Move of casks: each from where the books have it to another place. No alcohol is posted.

A warehousekeeper's records say where goods lie and every movement of them within the warehouse (Excise Warehousing
(Etc.) Regulations 1988, schedule 2; Notice 196). A move between two warehouses under bond has papers of its own.
"""

from __future__ import annotations

from datetime import datetime

from batches.casks.standing import before_all
from batches.sheets import fields
from batches.sheets.cautions import CASKS, HEAVY_LOADS
from batches.sheets.results import Head, Line, Result
from batches.sheets.sheet import Moment, Note, OfCasks, Phase, Rows, Section, Sheet
from batches.sheets.typed.completed import Completed, Written
from batches.steps.shared.places import (
    LONGEST_PLACE,
    LONGEST_WAREHOUSE,
    is_known_warehouse,
    unlikely_place,
    unlikely_warehouse,
)
from distillery.plant.models import Kind as VesselKind
from distillery.plant.models import place_said

NOT_RECORDED = "not recorded"


def from_where(written: Completed, now: datetime) -> Result | None:
    """Each cask with the place that the books had it in before, and where it goes."""
    lines = [one for one in written.rows if one.has("cask")]
    if not lines:
        return None
    at = written.moment("at") if written.has("at") else now
    stood = before_all((one.vessel("cask").code for one in lines), at, without=written.number)
    return Result(
        "From where to where",
        (Head("Cask"), Head("From, by the books"), Head("To")),
        tuple(
            Line((code, stood[code].place or NOT_RECORDED if code in stood else NOT_RECORDED, _to(one)))
            for one in lines
            for code in [one.vessel("cask").code]
        ),
    )


def to_look_at(written: Completed) -> list[Note]:
    """Places that the site does not have, and casks that lie there already."""
    notes: list[Note] = []
    warehouses = {line.text("to_warehouse") for line in written.rows}
    unknown = {name for name in warehouses if not is_known_warehouse(name)}
    codes = (line.vessel("cask").code for line in written.rows)
    stood = before_all(codes, written.moment("at"), without=written.number)
    for index, line in enumerate(written.rows):
        place = (line.text("to_warehouse"), line.text("to_row"), line.text("to_tier"))
        if place[0] in unknown:
            notes += unlikely_warehouse(place[0], "to_warehouse", index)
            unknown.discard(place[0])
        notes += unlikely_place(*place, field="to_row", line=index)
        cask = stood.get(line.vessel("cask").code)
        if cask is not None and cask.place and cask.place == place_said(*place):
            notes.append(Note("cask", index, f"Cask {cask.vessel.code} lies in {cask.place} by the books already."))
    return notes


def _to(line: Written) -> str:
    return place_said(line.text("to_warehouse"), line.text("to_row"), line.text("to_tier"))


SHEET = Sheet(
    kind="cask_move",
    title="Move of casks",
    plural="Moves of casks",
    operation="move of casks",
    table="cask_moves",
    prefix="MV",
    number_column="move",
    moments=(Moment(name="moved", label="Move", when="at", phase=Phase.MOVE),),
    sections=(
        Section(
            heading="Move",
            items=(
                fields.when("at", "Moved at"),
                fields.name("moved_by", "Moved by", required=False),
                fields.text("why", "Why", longest=200, required=False),
            ),
        ),
    ),
    rows=Rows(
        heading="Casks",
        one="cask",
        each="cask",
        items=(
            fields.vessel("cask", "Cask", VesselKind.CASK),
            fields.text("to_warehouse", "To warehouse", longest=LONGEST_WAREHOUSE),
            fields.text("to_row", "Row", longest=LONGEST_PLACE, required=False),
            fields.text("to_tier", "Tier", longest=LONGEST_PLACE, required=False),
        ),
    ),
    cautions=(CASKS, HEAVY_LOADS),
    list_columns=("at", "moved_by", "why"),
    after="cask_fill",
    of_casks=OfCasks(cask="cask", warehouse="to_warehouse", row="to_row", tier="to_tier", told=("why",)),
    results=(from_where,),
    printed_title="Move of casks",
    note=to_look_at,
)
