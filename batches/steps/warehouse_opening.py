"""Opening of a warehouse: who opened it with which key, and who closed it again. One record from opening to closing.

A warehousekeeper's records have opening and closing times and keyholders (Excise Warehousing (Etc.) Regulations 1988,
schedule 2 (l) and (m)).
"""

from __future__ import annotations

from datetime import datetime, timedelta

from batches.sheets import fields
from batches.sheets.results import comes_to
from batches.sheets.sheet import Moment, Note, Phase, Section, Sheet
from batches.sheets.typed.completed import Completed
from batches.steps.shared.places import LONGEST_WAREHOUSE, unlikely_warehouse
from distillery import figures
from distillery.clock.reading import site_day
from distillery.pages import Fact, Kind, State
from distillery.plant.places import keyholders

# Longer than any day's work.
LONG_OPEN = timedelta(hours=24)
LONGEST_SEALS = 120


def to_look_at(written: Completed) -> list[Note]:
    """Keys in hands that hold none by the list of keyholders."""
    warehouse = written.text("warehouse")
    notes = unlikely_warehouse(warehouse, "warehouse")
    for at, who, key in (("opened_at", "opened_by", "opened_key"), ("closed_at", "closed_by", "closed_key")):
        if written.has(at) and written.has(who):
            notes += _unlikely_hand(written, warehouse, at, who, key)
    return notes


def _unlikely_hand(written: Completed, warehouse: str, at: str, who: str, key: str) -> list[Note]:
    day, name = site_day(written.moment(at)), written.text(who)
    held = keyholders(warehouse, on=day)
    own = [one.key for one in held if one.name.casefold() == name.casefold()]
    if not held:
        return []
    said = f"{name} holds no key of {warehouse} on {figures.day(day, year=True)} by the list of keyholders."
    if not own:
        return [Note(who, None, said)]
    typed = written.text(key)
    if typed and typed.casefold() not in {one.casefold() for one in own}:
        return [Note(key, None, f"{name} holds {', '.join(own)} of {warehouse}, not {typed}.")]
    return []


def how_long(written: Completed, now: datetime) -> list[Fact]:
    """How long it was open, or that it was not closed."""
    if not written.has("opened_at"):
        return []
    opened = written.moment("opened_at")
    if written.has("closed_at"):
        return [Fact("Open for", figures.span(written.moment("closed_at") - opened))]
    since = figures.moment(opened)
    if now - opened >= LONG_OPEN:
        return [Fact("Closing", "none", note=f"open since {since}", state=State(Kind.MISSING, "Not closed"))]
    return [Fact("Closing", "none yet", note=f"open since {since}")]


SHEET = Sheet(
    kind="warehouse_opening",
    title="Opening of a warehouse",
    plural="Opening and closing book",
    operation="opening of a warehouse",
    table="warehouse_openings",
    prefix="WO",
    number_column="opening",
    moments=(
        Moment(name="opened", label="Opening", when="opened_at", phase=Phase.BEGINNING),
        Moment(name="closed", label="Closing", when="closed_at", phase=Phase.COUNT),
    ),
    sections=(
        Section(
            heading="Opening",
            items=(
                fields.text("warehouse", "Warehouse", longest=LONGEST_WAREHOUSE),
                fields.when("opened_at", "Opened at"),
                fields.name("opened_by", "Opened by"),
                fields.text("opened_key", "Key", longest=40, required=False),
                fields.text("seals_found", "Seals found", longest=LONGEST_SEALS, required=False),
                fields.text("why", "What for", longest=200, required=False),
            ),
        ),
        Section(
            heading="Closing",
            moment="closed",
            items=(
                fields.when("closed_at", "Closed at", not_before="opened_at"),
                fields.name("closed_by", "Closed by"),
                fields.text("closed_key", "Key", longest=40, required=False),
                fields.text("seals_put_on", "Seals put on", longest=LONGEST_SEALS, required=False),
            ),
        ),
    ),
    list_columns=("opened_at", "warehouse", "opened_by", "closed_at", "closed_by", "seals_put_on"),
    after="warehouse_round",
    longest=timedelta(days=2),
    of_warehouse="warehouse",
    results=(comes_to(how_long),),
    printed_title="Opening and closing of a warehouse",
    note=to_look_at,
)
