"""Every record that is on, with what stands on it and what was read along the way: three queries for all of them."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cached_property
from typing import NamedTuple

from django.db.models import QuerySet

from batches.models import Reading as ReadingRow
from batches.models import Record, State, Version
from batches.running.figures import STRENGTH, figure_of, time_of
from batches.sheets.declared import Event, Field, Running
from batches.sheets.register import all_sheets, sheet_of
from batches.sheets.sheet import Sheet
from distillery.clock.reading import site_day
from distillery.rules.in_force import usual_figure

# What a site's own figure of it is called, with the operation after it, in minutes.
BETWEEN_READINGS = "time between readings"


class Reading(NamedTuple):
    """A reading along the way as it is kept, without what else hangs on it: several runs have some thousand of them."""

    pk: int
    at: datetime
    quantity: str
    value: str
    strikes_id: int | None
    reason: str
    person_id: int
    written_at: datetime


@dataclass(frozen=True, slots=True)
class Happened:
    """An event that was written down, with the figures that stand beside it as typed."""

    event: Event
    at: datetime
    figures: tuple[tuple[Field, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Span:
    """A time in which a run stayed in one state; `until` is None while it lasts. `into` names a field of a vessel."""

    state: str
    into: str
    since: datetime
    until: datetime | None


@dataclass(frozen=True, slots=True)
class Point:
    """What was read of one quantity at one time, in the field's own unit."""

    at: datetime
    value: float


@dataclass(frozen=True, eq=False, repr=False)
class Run:
    """A record as it runs, or as it ran: `serial` is its newest version, `readings` all of them in order of time."""

    record: Record
    sheet: Sheet
    running: Running
    typed: Mapping[str, str]
    serial: int
    readings: Sequence[Reading]

    @property
    def begun(self) -> datetime:
        """When it began."""
        return self.record.happened_from

    @cached_property
    def every(self) -> timedelta:
        """How long after one reading the next is due: the site's own figure of the day, else what the sheet says."""
        own = usual_figure(f"{BETWEEN_READINGS}, {self.sheet.operation}", site_day(self.begun))
        if own is None or not own.expected:
            return self.running.every
        return timedelta(minutes=own.expected)

    @property
    def vessel(self) -> str:
        """The code of the vessel it is in; blank where that is not written yet or the sheet keeps none."""
        name = self.sheet.occupies or (self.sheet.works_in.vessel if self.sheet.works_in else "")
        return self.typed.get(name, "")

    @property
    def product(self) -> str:
        """What it makes, in small letters, where its kind makes more than one thing; blank where it does not."""
        return self.typed.get(self.running.product, "").casefold() if self.running.product else ""

    @property
    def quantity(self) -> Field | None:
        """What is read along the way above all: what is drawn, else what stands first."""
        if self.sheet.chart is not None:
            return self.sheet.reading(self.sheet.chart.quantity)
        return next(iter(self.sheet.readings), None)

    def standing(self, quantity: str) -> list[Reading]:
        """The readings of a quantity that are not struck out, in order of time."""
        struck = {one.strikes_id for one in self.readings if one.strikes_id is not None}
        return [one for one in self.readings if one.quantity == quantity and one.pk not in struck and one.value]

    @cached_property
    def points(self) -> list[Point]:
        """What was read of the quantity above all, a strength that was written at a cut among it."""
        field = self.quantity
        if field is None:
            return []
        found = [
            Point(one.at, value)
            for one in self.standing(field.name)
            if (value := figure_of(field, one.value)) is not None
        ]
        if field.unit == STRENGTH:
            for one in self.happened:
                found += [
                    Point(one.at, value)
                    for figure, typed in one.figures
                    if figure.unit == STRENGTH and (value := figure_of(figure, typed)) is not None
                ]
        return sorted(found, key=lambda point: point.at)

    @cached_property
    def happened(self) -> list[Happened]:
        """The events that were written down, in order of time."""
        found = []
        for event in self.running.events:
            if event.again:
                found += [Happened(event, one.at) for one in self.standing(event.again) if one.value == event.says]
                continue
            at = time_of(self.sheet.field(event.when), self.typed.get(event.when, ""))
            if at is not None:
                beside = [(self.sheet.field(name), self.typed.get(name, "")) for name in event.figures]
                found.append(Happened(event, at, tuple((field, typed) for field, typed in beside if typed)))
        return sorted(found, key=lambda one: one.at)

    @cached_property
    def spans(self) -> list[Span]:
        """The states it was in, one after another; the last is the present one. A stop goes back to what was before. A
        receiver that was changed gives way to the next from then on, and the state stays.
        """
        before: list[tuple[str, str]] = []
        turned: dict[str, str] = {}
        state, into, since = self.running.state, self.running.into, self.begun
        found: list[Span] = []
        for one in self.happened:
            if one.event.only_notes:
                continue
            found.append(Span(state, turned.get(into, into), since, one.at))
            if one.event.instead_of:
                turned[one.event.instead_of] = one.event.into
            elif one.event.state:
                before.append((state, into))
                state, into = one.event.state, one.event.into
            elif before:
                state, into = before.pop()
            since = one.at
        return [*found, Span(state, turned.get(into, into), since, self.record.happened_to)]

    @property
    def in_state_since(self) -> datetime:
        """Since when it has been in its present state, whatever receiver was changed meanwhile."""
        since = self.spans[-1].since
        for span in reversed(self.spans):
            if span.state != self.spans[-1].state:
                break
            since = span.since
        return since

    def may_come(self) -> list[Event]:
        """The events that can come next, in order: once each, but a stop again and again. The change of a receiver that
        nothing has run into yet is left out."""
        there = [one.event for one in self.happened]
        stopped = self.stopped
        coming = []
        for event in self.running.events:
            if event.again:
                fits = (event.after == stopped.name) if stopped else not event.after
            else:
                fits = event not in there and (not event.after or any(one.name == event.after for one in there))
            if event.instead_of:
                # Only what takes anything, or has taken it, is changed; that may be while the still stands.
                fits = fits and any(span.into == event.instead_of for span in self.spans)
            if fits and (stopped is None or event.again or event.instead_of):
                coming.append(event)
        return coming

    @property
    def stopped(self) -> Event | None:
        """The event that it is stopped by, if it is."""
        last = self._last_again
        return last.event if last is not None and last.event.state else None

    @property
    def started_again(self) -> datetime | None:
        """When it was last started again, if it is on."""
        last = self._last_again
        return last.at if last is not None and not last.event.state else None

    @property
    def _last_again(self) -> Happened | None:
        again = (one for one in reversed(self.happened) if one.event.again and not one.event.only_notes)
        return next(again, None)


def running_kinds() -> list[str]:
    """The kinds of records that can be on."""
    return [sheet.kind for sheet in all_sheets() if sheet.running is not None]


def is_running(record: Record) -> bool:
    """True while a record is on: begun, not ended, and of a sheet that says what it is meanwhile."""
    return record.state == State.OPEN and sheet_of(record.kind).running is not None


def all_running() -> list[Run]:
    """Every record that is on, in order of the process and of their beginnings. Three queries."""
    kinds = running_kinds()
    records = Record.objects.filter(state=State.OPEN, kind__in=kinds).order_by("happened_from", "pk")
    return sorted(runs_of(records), key=lambda run: kinds.index(run.record.kind))


def runs_of(records: QuerySet[Record] | Sequence[Record], *, main_only: bool = False) -> list[Run]:
    """Records as runs, those that never run left out: three queries, two where the records are there already.

    With `main_only` without what was read besides the quantity above all and the stops.
    """
    there = list(records)
    newest: dict[int, tuple[int, str]] = {}
    versions = Version.objects.filter(record__in=there).order_by("serial")
    for key, serial, values in versions.values_list("record_id", "serial", "values"):
        newest[key] = (serial, values)
    rows = ReadingRow.objects.filter(record__in=there).order_by("at", "pk")
    if main_only:
        rows = rows.filter(quantity__in={name for record in there for name in _main(sheet_of(record.kind))})
    read: dict[int, list[Reading]] = {}
    for key, *row in rows.values_list("record_id", *Reading._fields):
        read.setdefault(key, []).append(Reading(*row))
    found = []
    for record in there:
        sheet = sheet_of(record.kind)
        if sheet.running is not None and record.pk in newest:
            serial, values = newest[record.pk]
            found.append(Run(record, sheet, sheet.running, json.loads(values), serial, read.get(record.pk, [])))
    return found


def _main(sheet: Sheet) -> set[str]:
    quantity = sheet.chart.quantity if sheet.chart else next((one.name for one in sheet.readings), "")
    return {quantity, *(event.again for event in sheet.running.events)} if sheet.running else {quantity}
