"""Reads a whole sheet: every field, what the fields say of each other, and what the gauges come to.

All that is wrong is said at once, field by field. Whoever writes when a moment happened says that it happened, and
everything that the moment needs must then be there. What was typed is kept beside what it means.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime

from batches.sheets.declared import either
from batches.sheets.gauges import BY_WEIGHT, GRAVITIES, PARTS_BY, By, Gauge
from batches.sheets.materials.short import short_notes
from batches.sheets.sheet import Field, Moment, Sheet
from batches.sheets.site import Site
from batches.sheets.typed.completed import Completed, Written
from batches.sheets.typed.field_by_field import FieldsReader, Typed
from batches.sheets.typed.filled import Filled, Unfit
from batches.sheets.typed.parsing import MISSING
from batches.sheets.typed.values import Ungaugeable, Value
from distillery import figures

__all__ = ["Filled", "Unfit", "read_fields", "read_sheet", "read_so_far"]


def read_sheet(
    sheet: Sheet,
    typed: Typed,
    rows: Sequence[Typed] = (),
    *,
    site: Site,
    number: str = "",
    day: date | None = None,
    now: datetime | None = None,
    strict: bool = False,
    by_itself: bool = False,
) -> Filled:
    """Reads what was typed. `strict` also refuses readings of a moment whose time was left out, as a table must not
    hold figures that would silently stay out of the books. `by_itself` asks of the sheet alone, not what the step
    checks against the books.
    """
    reader = _Reader(sheet, site, day=day, now=now, strict=strict)
    given, lines = reader.written(typed, rows)
    names = {one.name for one in sheet.fields}
    row_names = {one.name for one in sheet.row_fields}
    for name in given.keys() - names:
        reader.wrong(name, None, f"{sheet.title} has no field {name}.")
    for index, line in enumerate(lines):
        for name in line.keys() - row_names:
            reader.wrong(name, index, f"{sheet.title} has no field {name} on its lines.")
    completed = reader.completed(given, lines, number)
    claimed = reader.claim(completed, given, lines, strict=strict)
    reader.order(completed)
    reader.each_once(completed, lines)
    reader.gauges(completed, claimed)
    if not reader.problems and claimed and not by_itself:
        if sheet.check is not None:
            reader.problems += sheet.check(completed)
        if sheet.note is not None and not reader.problems:
            reader.notes += sheet.note(completed)
        if not reader.problems:
            reader.notes += short_notes(completed)
    return Filled(completed, given, lines, claimed, reader.problems, reader.notes, reader.places)


def read_so_far(
    sheet: Sheet,
    typed: Typed,
    rows: Sequence[Typed] = (),
    *,
    site: Site,
    number: str = "",
    day: date | None = None,
    now: datetime | None = None,
) -> Completed:
    """A sheet that is still being written on: nothing is needed yet, and what cannot be read counts as blank."""
    reader = _Reader(sheet, site, day=day, now=now)
    return reader.completed(*reader.written(typed, rows), number)


def read_fields(sheet: Sheet, typed: Typed, names: Sequence[str], *, site: Site) -> dict[str, Value]:
    """The values of a few fields, those that cannot be read left out."""
    reader = _Reader(sheet, site, day=None, now=None)
    fields = [sheet.field(name) for name in names]
    return {one.name: value for one in fields if (value := reader.value(one, dict(typed))) is not None}


class _Reader(FieldsReader):
    """Reads a sheet as a whole: its moments, their order, what names a line, its gauges."""

    # -- single fields

    # -- the record as a whole

    def claim(
        self, completed: Completed, given: Mapping[str, str], lines: Sequence[Mapping[str, str]], *, strict: bool
    ) -> list[Moment]:
        """The moments that are said to have happened, in order; all that each of them needs must be there."""
        claimed: list[Moment] = []
        for place, moment in enumerate(self.sheet.moments):
            when = self.sheet.field(moment.when)
            if not given.get(moment.when):
                if place == 0:
                    self.wrong(moment.when, None, f"{when.label} is blank; say when, then the rest can be kept.")
                elif strict or self._comes_before_what_is_written(place, given):
                    self._silent(moment, when, given)
                continue
            missing_before = [
                one for one in self.sheet.moments[:place] if one not in claimed and not one.may_never_come
            ]
            for before in missing_before:
                label = self.sheet.field(before.when).label
                if not self.is_wrong(before.when, None):
                    self.wrong(before.when, None, f"{label} is blank, but {when.label.lower()} is written.")
            claimed.append(moment)
            self._complete(moment, given, lines)
            if not moment.comes(given) and not self.is_wrong(moment.when, None):
                asked = either([self.sheet.field(name).label.lower() for name in moment.only_with])
                said = (
                    f"{when.label} is written, but {asked} is blank; the {moment.label.lower()} comes only with that."
                )
                self.wrong(moment.when, None, said)
        return claimed

    def _comes_before_what_is_written(self, place: int, given: Mapping[str, str]) -> bool:
        """True for a moment that may never come where one after it has: what stands of it is then no beginning."""
        after = self.sheet.moments[place + 1 :]
        return self.sheet.moments[place].optional and any(given.get(one.when) for one in after)

    def _complete(self, moment: Moment, given: Mapping[str, str], lines: Sequence[Mapping[str, str]]) -> None:
        label = moment.label.lower()
        for one in self.sheet.fields_of(moment):
            if one.required and one.name not in given:
                instead = (MISSING,) if self._may_be_missing(one) else ()
                self.wrong(one.name, None, f"{one.label} is blank; it is needed for the {label}.", instead)
        if self.sheet.rows_belong_to(moment) and self.sheet.rows is not None:
            if len(lines) < self.sheet.rows.least:
                self.wrong(self.sheet.rows.each, None, f"There is no {self.sheet.rows.one}; write at least one.")
            for index, line in enumerate(lines):
                for one in self.sheet.row_fields:
                    if one.required and one.name not in line:
                        self.wrong(one.name, index, f"{one.label} is blank on line {self.places[index] + 1}.")

    def _silent(self, moment: Moment, when: Field, given: Mapping[str, str]) -> None:
        written = [one for one in self.sheet.fields_of(moment) if one.required and one.name in given]
        if written:
            self.wrong(
                when.name,
                None,
                f"{when.label} is blank, but {written[0].name} is written; without a time it cannot go into the books.",
            )

    def order(self, completed: Completed) -> None:
        """No time may stand before the one it follows, and what may come in between stands within its record."""
        self._between(completed)
        for one in self.sheet.fields:
            if one.not_before and completed.has(one.name) and completed.has(one.not_before):
                start, end = completed.moment(one.not_before), completed.moment(one.name)
                if end < start:
                    before = self.sheet.field(one.not_before)
                    self.wrong(
                        one.name,
                        None,
                        f"{one.label} is {figures.moment(end)}, before {before.label.lower()} "
                        f"({figures.moment(start)}).",
                    )

    def _between(self, completed: Completed) -> None:
        last = self.sheet.moments[-1].when
        for moment in (one for one in self.sheet.moments if one.optional):
            if completed.has(moment.when) and completed.has(last):
                at, end = completed.moment(moment.when), completed.moment(last)
                if at > end:
                    label, ended = self.sheet.field(moment.when).label, self.sheet.field(last).label.lower()
                    said = f"{label} is {figures.moment(at)}, after {ended} ({figures.moment(end)})."
                    self.wrong(moment.when, None, said)
        for gauge in self.sheet.gauges:
            if gauge.then and completed.has(gauge.then) and completed.has(gauge.vessel):
                code = completed.vessel(gauge.then).code
                if code == completed.vessel(gauge.vessel).code:
                    label = self.sheet.field(gauge.then).label
                    said = f"{label}: {code} is the one it was changed from; name the one that takes its place."
                    self.wrong(gauge.then, None, said)

    def each_once(self, completed: Completed, lines: Sequence[Mapping[str, str]]) -> None:
        """What names a line may stand only once."""
        if self.sheet.rows is None:
            return
        seen: dict[str, int] = {}
        name = self.sheet.rows.each
        for index, line in enumerate(lines):
            code = self.sheet.rows.named(line) if line.get(name) else ""
            if code and code in seen:
                label = self.sheet.field(name).label
                self.wrong(name, index, f"{label} {line[name]} stands on line {self.places[seen[code]] + 1} already.")
            seen.setdefault(code, index)

    # -- gauges

    def gauges(self, completed: Completed, claimed: Sequence[Moment]) -> None:
        """Works out every gauge that can be, and says of the others why not."""
        for gauge in self.sheet.gauges:
            self._gauge(completed, gauge, None, self._is_due(gauge, claimed))
        if self.sheet.rows is not None:
            for index, line in enumerate(completed.rows):
                for gauge in self.sheet.rows.gauges:
                    self._gauge(line, gauge, index, self._is_due(gauge, claimed))

    def _all_or_none(self, written: Written, gauge: Gauge, row: int | None) -> None:
        """A weighing that may be left out is written whole or not at all."""
        blank = [one for one in gauge.fields if not written.has(one.name) and not self.is_wrong(one.name, row)]
        there = next((one for one in gauge.fields if written.has(one.name)), None)
        if there is not None and blank:
            said = (
                f"{blank[0].label} is blank, but {there.label.lower()} is written; a weighing needs all its readings."
            )
            self.wrong(blank[0].name, row, said)

    def _weight_or_litres(self, written: Written, gauge: Gauge, row: int | None) -> None:
        """A cask is measured one way: by tare and gross, or by its litres."""
        tare, gross, litres = (self.sheet.field(gauge.name(part)) for part in ("tare_kg", "gross_kg", "litres"))
        where = "" if row is None else f" on line {self.places[row] + 1}"
        if written.has(litres.name) and written.has(gross.name):
            said = (
                f"{gross.label} and {litres.label.lower()} are both written{where}; leave blank the one it was not "
                "measured by."
            )
            self.wrong(litres.name, row, said)
        if any(written.has(litres.name) or self.is_wrong(one.name, row) for one in (tare, gross, litres)):
            return
        for one in (tare, gross):
            if not written.has(one.name):
                said = f"{one.label} is blank{where}; write tare and gross, or the {litres.label.lower()}."
                self.wrong(one.name, row, said)

    def _is_due(self, gauge: Gauge, claimed: Sequence[Moment]) -> bool:
        return self.sheet.moment_of(gauge.fields[0].name) in claimed

    def _gauge(self, written: Written, declared: Gauge, row: int | None, due: bool) -> None:
        if any(written.is_missing(one.name) for one in declared.fields):
            return
        dip = declared.fields[0]
        if declared.same_as and not written.shares(declared.prefix) and not written.has(dip.name):
            if not any(self.is_wrong(one.name, row) for one in declared.fields):
                said = f"{dip.label} is blank; write it, or leave the whole gauge blank where it was not taken apart."
                self.wrong(dip.name, row, said)
            return
        gauge = written.gauge(declared.prefix)
        needed = [gauge.vessel, gauge.fields[0].name]
        if declared.or_litres and due:
            self._weight_or_litres(written, declared, row)
        if gauge.by in (*BY_WEIGHT, By.VOLUME):
            needed = [gauge.name(part) for part in PARTS_BY[gauge.by]]
            if gauge.optional:
                self._all_or_none(written, gauge, row)
        if gauge.gravities_of:
            needed.append(gauge.gravities_of)
        elif gauge.by == By.WASH_DIP and not gauge.present_gravity:
            needed += GRAVITIES
        read = [one.name for one in declared.fields]
        read += [name for name in (gauge.celsius_from, gauge.present_gravity) if name]
        when = self.sheet.moment_of(gauge.fields[0].name).when
        if any(self.is_wrong(name, row) or self.is_wrong(name, None) for name in [*needed, *read, when]):
            return
        if not all(written.has(name) for name in needed):
            return
        try:
            if gauge.by in (By.SPIRIT_DIP, By.WASH_DIP):
                written.dipped(gauge)
            if due and written.working(gauge.prefix) is None:
                written.quantity(gauge.prefix, at=written.day_of_factors(gauge))
        except Ungaugeable as error:
            self.wrong(error.field, row, error.sentence)
