"""The list of what is due of certificates and tables of vessels."""

from __future__ import annotations

from distillery import figures
from distillery.lists.columns import DayColumn, ListColumn
from distillery.lists.tables import HouseTable
from distillery.pages import Kind as StateKind
from distillery.pages import State
from distillery.plant.due import Due
from distillery.plant.forms.boxes import MEASURED


def _what(row: Due) -> str:
    if not row.measures:
        return "Calibration of its table"
    return f"Certificate, {MEASURED.get(row.measures, row.measures).lower()}"


def _now(row: Due) -> str:
    if not row.months:
        return "no interval is set"
    if row.days_left is None:
        return "none on record"
    if row.is_overdue:
        return f"{figures.count(-row.days_left)} days past"
    return f"in {figures.count(row.days_left)} days"


def _state(row: Due) -> State | None:
    if row.is_overdue:
        return State(StateKind.LATE, "Overdue")
    if row.asks and row.due is not None:
        return State(StateKind.WATCH, "Soon")
    return None


class DueTable(HouseTable):
    """Certificates and tables by the day they are due."""

    what = ListColumn("What", _what, state=_state)
    code = ListColumn("Instrument or vessel", "code", href=lambda row: row.href)
    done = DayColumn("Last one", "done", none="none on record")
    every = ListColumn("Every", lambda row: f"{row.months} months" if row.months else None, none="not set")
    due = DayColumn("Due", "due", none="no day")
    now = ListColumn("Now", _now)

    name, caption = "due", "Certificates and tables of vessels that are due"
    nothing = "No instrument and no vessel with a table yet. Add the first."
