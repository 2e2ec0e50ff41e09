"""Round of a warehouse: who walked it when, what was seen of which cask, and what was done. No alcohol is posted.

Litres lost are an estimate and are written down only; what a cask holds is found by a regauge, which a leaking cask
asks for. A walk every week to every month, 5 to 18 °C and 70 to 90 % humidity are habits of the trade (no
source).
"""

from __future__ import annotations

from batches.casks.standing import before_all
from batches.sheets import fields
from batches.sheets.cautions import CASKS, VAPOUR
from batches.sheets.sheet import Field, Kind, Moment, Note, OfCasks, Phase, Rows, Section, Sheet
from batches.sheets.typed.completed import Completed
from batches.steps.shared.places import LONGEST_WAREHOUSE, unlikely_warehouse
from distillery.plant.models import Kind as VesselKind

DRY, DAMP, WEEPING, LEAKING = "dry", "damp at the stave", "weeping", "leaking"
SEEN = (DRY, DAMP, WEEPING, LEAKING)


def to_look_at(written: Completed) -> list[Note]:
    """Casks that lie elsewhere by the books, and a dry cask that lost something."""
    warehouse = written.text("warehouse")
    notes = unlikely_warehouse(warehouse, "warehouse")
    codes = [line.vessel("cask").code for line in written.rows]
    stood = before_all(codes, written.moment("at"), without=written.number)
    for index, line in enumerate(written.rows):
        cask = stood.get(codes[index])
        if cask is not None and cask.warehouse and cask.warehouse != warehouse:
            said = f"Cask {codes[index]} lies in {cask.place} by the books, not in {warehouse}."
            notes.append(Note("cask", index, said))
        if line.text("seen") == DRY and line.has("lost_litres") and line.decimal("lost_litres") > 0:
            notes.append(Note("lost_litres", index, f"Cask {codes[index]} is dry and has lost something."))
    return notes


SHEET = Sheet(
    kind="warehouse_round",
    title="Round of a warehouse",
    plural="Rounds of the warehouses",
    operation="round of a warehouse",
    table="warehouse_rounds",
    prefix="RW",
    number_column="round",
    moments=(Moment(name="walked", label="Round", when="at", phase=Phase.MOVE),),
    sections=(
        Section(
            heading="Round",
            items=(
                fields.when("at", "Walked at"),
                fields.text("warehouse", "Warehouse", longest=LONGEST_WAREHOUSE),
                fields.name("walked_by", "Walked by"),
                fields.celsius("air_celsius", "Air", usual=("2", "22"), required=False),
                fields.percent(
                    "humidity_percent", "Relative humidity", unit="%", decimals=0, usual=("60", "95"), required=False
                ),
                fields.text("remark", "Remark", longest=200, required=False),
            ),
        ),
    ),
    rows=Rows(
        heading="What was seen",
        one="cask",
        each="cask",
        least=0,
        items=(
            fields.vessel("cask", "Cask", VesselKind.CASK),
            Field(name="seen", label="Seen", kind=Kind.CHOICE, choices=SEEN),
            fields.litres("lost_litres", "Lost, by estimate", short="Lost, est", required=False),
            fields.text("done", "What was done", longest=200, required=False),
        ),
    ),
    cautions=(CASKS, VAPOUR),
    list_columns=("at", "warehouse", "walked_by", "air_celsius", "humidity_percent"),
    after="cask_owner",
    of_casks=OfCasks(cask="cask", seen="seen", leaks=(LEAKING,), told=("lost_litres", "done")),
    of_warehouse="warehouse",
    printed_title="Round of a warehouse",
    note=to_look_at,
)
