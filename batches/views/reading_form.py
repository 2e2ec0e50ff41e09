"""The one line in which readings along the way of a record are written: when, and a box for each quantity."""

from __future__ import annotations

from typing import Any

from batches.fields import when
from batches.filling import Unfit
from batches.forms import Offers, SentOnce, SheetForm, now_typed, with_its_day
from batches.recording import Busy
from batches.sheet import Sheet
from batches.site import Site

AT = when("at", "Happened at", help="Write 02:10 for today, or the day too.")


class ReadingForm(SheetForm, SentOnce):
    """A time and the quantities of a sheet. All boxes but the time may be left blank."""

    def __init__(self, sheet: Sheet, *, data: Any = None) -> None:
        super().__init__((AT, *sheet.readings), Offers(Site()), data=data, initial={"at": now_typed()})
        for field in sheet.readings:
            self.fields[field.name].required = False
        self.carry_token()

    @property
    def rows(self) -> list[tuple[str, str, str]]:
        """Time, quantity and value of every box that was filled in."""
        typed = self.typed()
        at = with_its_day(AT, typed.get("at", ""))
        return [(at, name, value) for name, value in typed.items() if name != "at"]

    def mark(self, error: Unfit | Busy) -> None:
        """Puts what is wrong beside its box; a time that is wrong for every reading is said once."""
        if isinstance(error, Busy):
            self.add_error(None, error.sentence)
            return
        rows, said = self.rows, set()
        for problem in error.problems:
            name = problem.field
            if name == "value" and problem.row is not None:
                name = rows[problem.row][1]
            if (name, problem.sentence) not in said:
                said.add((name, problem.sentence))
                self.add_error(name if name in self.fields else None, problem.sentence)
