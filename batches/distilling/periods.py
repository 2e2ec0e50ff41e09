"""Distillation periods as they were written, and the runs that belong to each."""

from __future__ import annotations

import json
from calendar import monthrange
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from django.db.models import QuerySet

from batches.models import Record, State, Version
from batches.running.figures import time_of
from batches.sheets.declared import Distils
from batches.sheets.register import all_sheets, sheet_of
from batches.sheets.sheet import Sheet
from distillery.clock.reading import books_now

LAST = -1


@dataclass(frozen=True, slots=True)
class Period:
    """One period: its record, its class of spirits, when it was opened, and ended if it was."""

    record: Record
    spirits: str
    opened_at: datetime
    ended_at: datetime | None
    typed: Mapping[str, str] = field(compare=False, hash=False, repr=False)

    @property
    def number(self) -> str:
        """The number of its record."""
        return self.record.number

    def holds(self, at: datetime) -> bool:
        """True of a moment within it. The moment of its end is its own, that of the next one's opening the next's."""
        return self.opened_at <= at and (self.ended_at is None or at < self.ended_at)

    @property
    def until(self) -> datetime:
        """Its end, or now by the books' clock while it is open."""
        return self.ended_at or max(books_now(), self.opened_at)


@dataclass(frozen=True, slots=True)
class StillRun:
    """A run that belongs to a distillation period: its record, its sheet, what stands on it as typed."""

    record: Record
    sheet: Sheet
    distils: Distils
    typed: Mapping[str, str] = field(compare=False, hash=False, repr=False)

    @property
    def charged_at(self) -> datetime:
        """When it was charged."""
        return self.record.happened_from

    @property
    def wash_of(self) -> str:
        """The number of the record whose wash it was charged with; blank where it is charged with something else."""
        return self.typed.get(self.distils.wash_of, "") if self.distils.wash_of else ""

    @property
    def makes_spirit(self) -> bool:
        """True where it runs spirit into a receiver."""
        return bool(self.distils.spirit)

    def number_in(self, name: str) -> float | None:
        """A figure on it, in the field's own unit; None where none is written."""
        try:
            return float(self.typed.get(name, ""))
        except ValueError:
            return None


def months_after(day: date, months: int) -> date:
    """The same day so many months later, or the last of that month where it has no such day."""
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    return date(year, month + 1, min(day.day, monthrange(year, month + 1)[1]))


def period_sheet() -> Sheet | None:
    """The sheet by which periods are opened and ended; None on a site without one."""
    return next((sheet for sheet in all_sheets() if sheet.spans), None)


def all_periods(spirits: str = "") -> list[Period]:
    """Every period that is not void, or those of one class, the newest first. Two queries."""
    sheet = period_sheet()
    if sheet is None:
        return []
    records = list(Record.objects.filter(kind=sheet.kind).exclude(state=State.VOID).order_by("-happened_from", "-pk"))
    found = [period_of(record, typed) for record, typed in zip(records, _typed_of(records), strict=True)]
    return [one for one in found if spirits in ("", one.spirits)]


def period_of(record: Record, typed: Mapping[str, str] | None = None) -> Period:
    """A period from its record, and what stands on it where that is at hand."""
    sheet = sheet_of(record.kind)
    typed = typed if typed is not None else _typed_of([record])[0]
    last = sheet.moments[LAST].when
    return Period(
        record, typed.get(sheet.spans, ""), record.happened_from, time_of(sheet.field(last), typed.get(last, "")), typed
    )


def runs_in(period: Period) -> list[StillRun]:
    """The runs of a period in the order they were charged. Two queries."""
    return runs_between(period.spirits, period.opened_at, period.ended_at)


def runs_between(spirits: str, since: datetime, until: datetime | None) -> list[StillRun]:
    """The runs of a class of spirits that were charged from one moment up to another, in order. Two queries."""
    kinds = {sheet.kind for sheet in all_sheets() if sheet.distils and sheet.distils.spirits == spirits}
    records = Record.objects.filter(kind__in=kinds, happened_from__gte=since).exclude(state=State.VOID)
    if until is not None:
        records = records.filter(happened_from__lt=until)
    return _as_runs(records.order_by("happened_from", "pk"))


def runs_without_period(periods: Sequence[Period], *, most: int = 20) -> list[StillRun]:
    """The last runs that no period holds, the newest first. Two queries."""
    sheets = {sheet.kind: sheet.distils for sheet in all_sheets() if sheet.distils}
    left = Record.objects.filter(kind__in=sheets)
    for period in periods:
        of_class = [kind for kind, distils in sheets.items() if distils and distils.spirits == period.spirits]
        inside: dict[str, object] = {"kind__in": of_class, "happened_from__gte": period.opened_at}
        if period.ended_at is not None:
            inside["happened_from__lt"] = period.ended_at
        left = left.exclude(**inside)
    return _as_runs(left.exclude(state=State.VOID).order_by("-happened_from", "-pk")[:most])


def runs_before(period: Period, most: int) -> list[StillRun]:
    """The last runs of its class that made spirit up to its end, the newest first. Two queries."""
    kinds = {
        sheet.kind
        for sheet in all_sheets()
        if sheet.distils and sheet.distils.spirits == period.spirits and sheet.distils.spirit
    }
    records = Record.objects.filter(kind__in=kinds, happened_from__lt=period.until + timedelta(microseconds=1))
    return _as_runs(records.exclude(state=State.VOID).order_by("-happened_from", "-pk")[:most])


def _as_runs(records: QuerySet[Record]) -> list[StillRun]:
    there = list(records)
    found = []
    for record, typed in zip(there, _typed_of(there), strict=True):
        sheet = sheet_of(record.kind)
        if sheet.distils is not None:
            found.append(StillRun(record, sheet, sheet.distils, typed))
    return found


def _typed_of(records: Iterable[Record]) -> list[dict[str, str]]:
    """What stands on each record, in their order. One query."""
    wanted = list(records)
    rows = Version.objects.filter(record__in=wanted).order_by("serial").values_list("record_id", "values")
    newest = dict(rows)
    return [json.loads(newest.get(record.pk, "{}")) for record in wanted]
