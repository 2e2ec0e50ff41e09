"""The one line in which readings along the way of a record are written: when, and a box for each quantity."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property
from typing import Any

from batches.pages.writing.boxes import Offers
from batches.pages.writing.forms import SentOnce, SheetForm, with_its_day
from batches.records.recording import Busy
from batches.sheets.fields import when
from batches.sheets.sheet import Field, Sheet
from batches.sheets.site import Site
from batches.sheets.typed.moments import NOW, is_bare_time, read_moment
from batches.sheets.typed.read_sheet import Unfit
from distillery import figures

AT = when("at", "Happened at", help="Now is the moment of saving. Or write 02:10, or the day too.")


class ReadingForm(SheetForm, SentOnce):
    """A time and the quantities of a sheet, or some of them. All boxes but the time may be left blank."""

    def __init__(
        self, sheet: Sheet, *, data: Any = None, quantities: Sequence[Field] | None = None, auto_id: str = "id_%s"
    ) -> None:
        read = sheet.readings if quantities is None else quantities
        super().__init__((AT, *read), Offers(Site()), data=data, initial={"at": NOW}, auto_id=auto_id)
        for field in read:
            self.fields[field.name].required = False
        if quantities is not None:
            self.shorten()
        self.carry_token()

    @property
    def rows(self) -> list[tuple[str, str, str]]:
        """Time, quantity and value of every box that was filled in."""
        return [(self.at, name, value) for name, value in self.typed().items() if name != "at"]

    @cached_property
    def at(self) -> str:
        """The time with the day it belongs to; 'now' as it was typed, for the moment of saving."""
        typed = self.typed().get("at", "")
        return with_its_day(AT, typed) if is_bare_time(typed) else typed

    @property
    def taken_as(self) -> str:
        """How a time without its day was understood, to be said once it is saved; nothing for any other."""
        typed = self.typed().get("at", "")
        return f" {typed} was taken as {figures.moment(read_moment(AT, self.at)[0])}." if self.at != typed else ""

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
                if name in self.fields:
                    self.refuse(problem, name)
                else:
                    self.add_error(None, problem.sentence)
