"""Reads a sheet field by field: what each box means, what is assumed where it is blank, which vessel is meant."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime

from batches.sheets.declared import either, kept_for_something_else
from batches.sheets.sheet import Field, Kind, Note, Problem, Sheet
from batches.sheets.site import Site
from batches.sheets.typed.completed import Completed
from batches.sheets.typed.moments import Unreadable, dated, is_bare_time, is_now, with_day_alone
from batches.sheets.typed.parsing import is_missing, read
from batches.sheets.typed.values import Value
from distillery.labels.scanned import MARK, Unscannable, number_of, number_or_text

Typed = Mapping[str, str]


class FieldsReader:
    """Gathers problems and notes while the fields of a sheet are read."""

    def __init__(
        self, sheet: Sheet, site: Site, *, day: date | None, now: datetime | None, strict: bool = False
    ) -> None:
        self.sheet = sheet
        self.site = site
        self.day = day
        self.now = now
        self.strict = strict
        self.problems: list[Problem] = []
        self.notes: list[Note] = []
        # Where on the page each line stands that has anything in it, counted from 0.
        self.places: list[int] = []

    def written(self, typed: Typed, rows: Sequence[Typed]) -> tuple[dict[str, str], list[dict[str, str]]]:
        """What is not blank of the fields, and the lines that have anything in them."""
        given = {name: self._number(name, text) for name, text in typed.items() if text.strip()}
        lines = [{name: self._number(name, text) for name, text in row.items() if text.strip()} for row in rows]
        self.places = [place for place, line in enumerate(lines) if line]
        return given, [line for line in lines if line]

    def _number(self, name: str, text: str) -> str:
        """What was typed without blanks around it; of a label that was scanned into the box of a vessel or a lot, the
        number that its code says.
        """
        if MARK not in text or not self.sheet.has_field(name):
            return text.strip()
        one = self.sheet.field(name)
        return number_or_text(text) if one.kind == Kind.VESSEL or one.lot else text.strip()

    def _misread(self, one: Field, typed: str, row: int | None) -> bool:
        """Says of a box for a vessel or a lot that what was scanned into it cannot be read."""
        if MARK not in typed or not (one.kind == Kind.VESSEL or one.lot):
            return False
        try:
            number_of(typed)
        except Unscannable as refused:
            self.wrong(one.name, row, f"{one.label}: {str(refused)[0].lower()}{str(refused)[1:]}")
            return True
        return False

    def completed(self, given: dict[str, str], lines: Sequence[dict[str, str]], number: str) -> Completed:
        """All that can be read of it, what is assumed filled in."""
        sheet = self.sheet
        self.look_up(given, lines)
        self.assume(sheet.fields, given)
        values = {one.name: value for one in sheet.fields if (value := self.value(one, given)) is not None}
        row_values = []
        for index, line in enumerate(lines):
            self.assume(sheet.row_fields, line)
            row_values.append(
                {one.name: value for one in sheet.row_fields if (value := self.value(one, line, row=index)) is not None}
            )
        return Completed(
            sheet,
            self.site,
            number=number,
            values=values,
            typed=given,
            rows=list(zip(row_values, lines, strict=True)),
        )

    def wrong(self, name: str, row: int | None, sentence: str, instead: tuple[str, ...] = ()) -> None:
        self.problems.append(Problem(name, row, sentence, instead=instead))

    def is_wrong(self, name: str, row: int | None) -> bool:
        return any(problem.field == name and problem.row == row for problem in self.problems)

    def assume(self, fields: Sequence[Field], given: dict[str, str]) -> None:
        """Fills in a vessel that was left blank where only one fits, and defaults, so that the record says them."""
        for one in fields:
            if one.name in given:
                continue
            if one.default:
                given[one.name] = one.default
            elif one.assumed and one.kind == Kind.VESSEL:
                fitting = self.site.vessels(kinds=one.vessel_kinds, stages=one.stages, purposes=one.purposes)
                if len(fitting) == 1:
                    given[one.name] = fitting[0].code

    def value(self, one: Field, given: dict[str, str], *, row: int | None = None) -> Value | None:
        """The value of one field, or None where it is blank or wrong."""
        typed = given.get(one.name, "")
        if not typed or self._misread(one, typed, row):
            return None
        if one.kind == Kind.VESSEL:
            return self._vessel(one, given, row)
        if one.kind == Kind.RECORD:
            record = self.site.record_meant(one.record_kind, typed)
            if record is None:
                self.wrong(one.name, row, f"{one.label}: there is no record {typed} to refer to.")
            elif typed.strip() != record.number:
                # Without its noughts the number could mean another record that comes later.
                given[one.name] = record.number
            return record
        if row is None and is_missing(typed) and self._may_be_missing(one):
            return None
        try:
            found = read(one, typed, day=self.day, now=self.now)
        except Unreadable as error:
            self.wrong(one.name, row, str(error), error.instead)
            return None
        self.notes += [Note(note.field, row, note.sentence, note.instead) for note in found.notes]
        if isinstance(found.value, datetime) and (is_bare_time(typed) or is_now(typed)):
            # The day was chosen beside the box; without it the time could not be read again.
            given[one.name] = dated(found.value) if is_now(typed) else with_day_alone(found.value)
        return found.value

    def _may_be_missing(self, one: Field) -> bool:
        """True for a figure of the last moment of a record of several, or of one that may never come: the record goes
        on without it. Tables of a log say what was read."""
        first, last, mine = self.sheet.moments[0], self.sheet.moments[-1], self.sheet.moment_of(one.name)
        figure = one.kind in (Kind.NUMBER, Kind.WHOLE)
        return not self.strict and figure and (mine.optional or (mine is last and last is not first))

    def look_up(self, given: Mapping[str, str], lines: Sequence[Mapping[str, str]]) -> None:
        """Has the site read every vessel named on the sheet together."""
        codes = [given.get(one.name, "") for one in self.sheet.fields if one.kind == Kind.VESSEL]
        of_lines = [one.name for one in self.sheet.row_fields if one.kind == Kind.VESSEL]
        self.site.look_up([*codes, *(line.get(name, "") for line in lines for name in of_lines)])

    def _vessel(self, one: Field, given: dict[str, str], row: int | None) -> Value | None:
        typed = given[one.name]
        vessel = self.site.vessel_meant(typed)
        if vessel is None:
            self.wrong(one.name, row, f"{one.label}: there is no vessel {typed} on this site.{self._how_to_enter(one)}")
            return None
        if one.vessel_kinds and vessel.kind not in one.vessel_kinds:
            kinds = either(one.vessel_kinds)
            self.wrong(one.name, row, f"{one.label}: {vessel.code} is a {vessel.kind}; a {kinds} goes here.")
            return None
        if unfit := kept_for_something_else(one, vessel):
            self.wrong(one.name, row, unfit)
            return None
        if typed.casefold() != vessel.code.casefold():
            # Without its noughts the number could mean another vessel that comes later.
            given[one.name] = vessel.code
        return vessel

    def _how_to_enter(self, one: Field) -> str:
        """What to write so that a new cask is entered in the plant with the sheet, where that can be."""
        if one.new_as is None or self.strict:
            return ""
        kind, litres = (self.sheet.field(name).label.lower() for name in (one.new_as.kind, one.new_as.litres))
        return f" Write its {kind} and {litres} beside it, and it can be entered in the plant with this sheet."
