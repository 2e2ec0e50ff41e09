"""What is handed over to be saved, and the sheet it makes, read before the turn.

Reading a sheet and working out its gauges takes longer than writing it, so it is done while others may still write. In
the turn it stands if nothing was written meanwhile, movement or entry of the trail; else it is read again there. What
is wrong with it is said in the turn alone, where nobody changes what it leans on.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Generic, TypeVar

from batches.models import Record
from batches.records import versions
from batches.records.asking import (
    Sure,
    ask_about_figures,
    ask_about_new_casks,
    ask_about_times,
    ask_for_name,
    ask_why_late,
)
from batches.records.asking.recalled import ask_about_recalled
from batches.records.occupied import leave_occupied_alone
from batches.records.posting import Standing, standing_of
from batches.records.refusals import as_seen, keep_posted_moments, leave_posted_alone, said_by_no_other
from batches.sheets.sheet import Problem, Sheet
from batches.sheets.site import Site
from batches.sheets.typed.moments import Unreadable, read_moment
from batches.sheets.typed.read_sheet import Filled, Unfit, read_sheet
from distillery.clock.reading import books_now
from distillery.rules.in_force import let_go
from ledger.posting.turns import written_so_far

Typed = Mapping[str, str]
Stood = tuple[dict[str, str], list[dict[str, str]]]
Found = TypeVar("Found")


@dataclass(frozen=True, slots=True)
class NewSheet:
    """A sheet fit to become a record, and the site it was read with."""

    filled: Filled
    site: Site


@dataclass(frozen=True, slots=True)
class SheetOnRecord:
    """A sheet as it would stand on a record, and what is in the books of it. Not `changed`, it says nothing new."""

    filled: Filled
    site: Site
    posted: Mapping[str, Standing]
    changed: bool


@dataclass(frozen=True, slots=True)
class Handed:
    """Fields and lines as typed, with what `recording.save` says of each of the others."""

    sheet: Sheet
    values: Typed
    rows: Sequence[Typed]
    site: Site | None
    day: date | None
    now: datetime | None
    strict: bool
    sure: Sure
    ends: datetime | None
    late_reason: str | None = None
    unsigned: bool = False

    def begins(self) -> datetime:
        """When the record begins. Raises Unfit."""
        field = self.sheet.field(self.sheet.moments[0].when)
        try:
            return read_moment(field, self.values.get(field.name, ""), day=self.day, now=self.now or books_now())[0]
        except Unreadable as error:
            raise Unfit([Problem(field.name, None, str(error))]) from error

    def as_new(self, number: str) -> NewSheet:
        """The sheet of a record that is not there yet. Raises Unfit, Asked, NotSigned."""
        sheet, site, now = self.sheet, self.site or Site(), self.now or books_now()
        ask_about_new_casks(sheet, self.rows, site, sure=self.sure)
        filled = read_sheet(
            sheet, self.values, self.rows, site=site, number=number, day=self.day, now=now, strict=self.strict
        ).require()
        leave_occupied_alone(sheet, number, filled, ends=self.ends)
        said_by_no_other(sheet, None, filled)
        self._ask(filled, now, None)
        return NewSheet(filled, site)

    def added_to(self, record: Record, seen: int | None) -> SheetOnRecord:
        """The sheet of a record with what is added to it; `seen` is the version the writer had before them.

        Raises Unfit, Asked, NotSigned, MovedOn.
        """
        sheet, site, now = self.sheet, self.site or Site(), self.now or books_now()
        stood, typed, lines = self._merged_into(record, seen)
        posted = standing_of(record)
        leave_posted_alone(sheet, record, posted, stood, (typed, lines))
        filled = read_sheet(
            sheet, typed, lines, site=site, number=record.number, day=self.day, now=now, strict=self.strict
        ).require()
        if (filled.typed, filled.rows) == stood:
            return SheetOnRecord(filled, site, posted, changed=False)
        leave_occupied_alone(sheet, record.number, filled, ends=self.ends)
        self._ask(filled, now, record, stood)
        return SheetOnRecord(filled, site, posted, changed=True)

    def corrected(self, record: Record, seen: int | None) -> SheetOnRecord:
        """The sheet of a record as a correction leaves it; `seen` is the version the writer had before them.

        Raises Unfit, where nothing is different too, Asked, NotSigned, MovedOn.
        """
        sheet, site, now = self.sheet, self.site or Site(), self.now or books_now()
        stood, typed, lines = self._merged_into(record, seen)
        filled = read_sheet(sheet, typed, lines, site=site, number=record.number, day=self.day, now=now).require()
        if (filled.typed, filled.rows) == stood:
            raise Unfit([Problem("", None, f"Nothing is different from what stands on {record.number}.")])
        leave_occupied_alone(sheet, record.number, filled)
        self._ask(filled, now, record, stood)
        posted = standing_of(record)
        keep_posted_moments(sheet, record, filled, posted)
        return SheetOnRecord(filled, site, posted, changed=True)

    def _merged_into(self, record: Record, seen: int | None) -> tuple[Stood, dict[str, str], list[dict[str, str]]]:
        """What stood on the record, and the fields and lines that come of it with what is handed over.

        Raises MovedOn where the writer had not seen what stands.
        """
        old = versions.newest(record)
        as_seen(record, old, seen)
        stood = versions.typed_of(old)
        return stood, *versions.merged(*stood, self.values, self.rows)

    def _ask(self, filled: Filled, now: datetime, record: Record | None, stood: Stood | None = None) -> None:
        """Holds a page to what it may not leave out, and asks about what is new or changed since what stood.

        Raises Unfit, Asked, NotSigned.
        """
        held_to = self.sheet.check_on_page
        if held_to is not None and self.sure is not True and (found := held_to(filled.completed)):
            raise Unfit(found)
        ask_about_times(filled, now=now, sure=self.sure, before=stood)
        ask_about_figures(filled, sure=self.sure, before=stood)
        ask_about_recalled(filled, sure=self.sure, before=stood)
        ask_why_late(filled, now=now, reason=self.late_reason, sure=self.sure, before=stood[0] if stood else None)
        if self.unsigned:
            ask_for_name(filled, record, before=stood[0] if stood else None)


class Ahead(Generic[Found]):
    """One reading done before the turn, or none: `in_turn` gives what it found where that still holds, else reads."""

    def __init__(self, read: Callable[..., Found] | None = None, *given: Any) -> None:
        self._given = given
        self._found: Found | None = None
        self._so_far: tuple[int, int] | None = None
        if read is None:
            return
        self._so_far = written_so_far()
        # Whatever is raised here, the turn comes upon it again and says it.
        with suppress(Exception):
            self._found = read(*given)

    def in_turn(self, read: Callable[..., Found], *given: Any) -> Found:
        """What `read` gives for what is given, asked in the turn."""
        if self._found is not None and given == self._given and self._so_far == written_so_far():
            return self._found
        if self._so_far is not None:
            # Rules that were read ahead are kept by the thread; one may have been set meanwhile.
            let_go()
        return read(*given)
