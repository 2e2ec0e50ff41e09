"""The list of the records of one kind: what a sheet puts in lists, its alcohol, difference and state."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from django.db.models import Exists, OuterRef, Q, QuerySet, Subquery
from django.utils import timezone

from batches.models import Record, State, Version
from batches.pages.records.shown import as_text, is_figure, record_address, state_of, unit_of
from batches.sheets.sheet import Field, Kind, Sheet
from batches.sheets.typed.moments import Unreadable, read_moment
from batches.sheets.typed.parsing import read_number
from distillery.lists.columns import DifferenceColumn, ListColumn, LpaColumn, MomentColumn, Plain
from distillery.lists.filters import DayFilter, HouseFilters, MonthFilter, OneOfFilter
from distillery.lists.tables import HouseTable
from distillery.plant.models import Vessel
from ledger.statements.of_movements import records_about
from ledger.statements.of_records import RecordAlcohol, alcohol_of_records
from ledger.views.lists.filters import AboutVesselFilter, people

# What a gauge was read at: the list has the alcohol that it came to.
READINGS_OF_A_GAUGE = ("dip_mm", "celsius", "hydrometer_percent")


class RecordTable(HouseTable):
    """Records of one kind, newest first. Readings of a dip have no column where the alcohol they came to has one."""

    number = ListColumn("Number", "number", href=record_address)
    happened = MomentColumn("Happened", "happened_from", order=("happened_from", "pk"))
    alcohol = LpaColumn("Alcohol", lambda row: row.alcohol_ul)
    difference = DifferenceColumn("Difference", lambda row: row.difference_ul)
    state = ListColumn("State", lambda row: "" if state_of(row) else "Complete", state=state_of)

    name = "records"
    note = "alcohol: what it put into vessels, casks and bottles or sent out, else what it measured"

    class Meta(HouseTable.Meta):
        order_by = ("-happened",)

    def __init__(self, data: Any, *, sheet: Sheet, **more: Any) -> None:
        self.sheet = sheet
        self.caption = sheet.plural
        self.nothing = f"No {sheet.plural.lower()} yet."
        self.nothing_fits = f"No {sheet.plural.lower()} match. Clear the filter."
        fields = typed_columns(sheet)
        amounts = ("alcohol", "difference") if posts(sheet) else ()
        super().__init__(
            data,
            extra_columns=fields,
            sequence=("number", "happened", *(name for name, _ in fields), *amounts, "state"),
            exclude=() if amounts else ("alcohol", "difference"),
            **more,
        )
        if not amounts:
            self.note = ""

    def prepare(self, rows: Sequence[Any]) -> None:
        alcohol = self._alcohol([row.number for row in rows])
        for row in rows:
            row.typed = json.loads(getattr(row, "standing", None) or "{}")
            found = alcohol.get(row.number)
            row.alcohol_ul = found.alcohol_ul if found else None
            row.difference_ul = found.difference_ul if found else None

    def totals(self, rows: Iterable[Any]) -> Mapping[str, Any]:
        assert isinstance(rows, QuerySet)
        if not posts(self.sheet):
            return {}
        found = self._alcohol(rows.order_by().values("number")).values()
        return {
            "alcohol": sum(one.alcohol_ul for one in found),
            "difference": sum(one.difference_ul for one in found),
        }

    def _alcohol(self, numbers: Any) -> dict[str, RecordAlcohol]:
        return alcohol_of_records(self.sheet.kind, numbers) if posts(self.sheet) else {}


class VesselFilter(AboutVesselFilter):
    """Records that moved or gauged what is in a vessel or cask."""

    def narrowed(self, rows: Any, vessel: Vessel) -> Any:
        return rows.filter(records_about(vessel))


class PersonFilter(OneOfFilter):
    """Records that a person opened, or wrote a version of."""

    def filter(self, rows: Any, value: Any) -> Any:
        if not value:
            return rows
        wrote = Version.objects.filter(record=OuterRef("pk"), person__username=value)
        return rows.filter(Exists(wrote) | Q(opened_by__username=value))


class RecordFilters(HouseFilters):
    """By state, month, days, vessel and person."""

    state = OneOfFilter("state", label="State", choices=lambda: State.choices)
    month = MonthFilter("happened_from")
    since = DayFilter("happened_from", label="From")
    until = DayFilter("happened_from", label="To", until=True)
    vessel = VesselFilter("number", label="Vessel or cask")
    person = PersonFilter("opened_by", label="Written by", choices=people)


def posts(sheet: Sheet) -> bool:
    """True where records of the kind move or measure alcohol."""
    return any(one.post is not None for one in sheet.moments)


def typed_columns(sheet: Sheet) -> list[tuple[str, ListColumn]]:
    """What the sheet puts in lists, but the time, which every list has, and readings that an amount stands for."""
    fields = [sheet.field(name) for name in sheet.list_columns]
    first = next((field.name for field in fields if field.kind == Kind.MOMENT), "")
    shown = [
        one for one in fields if one.name != first and not (posts(sheet) and one.name.endswith(READINGS_OF_A_GAUGE))
    ]
    return [(f"typed_{field.name}", typed_column(field)) for field in shown]


def typed_column(field: Field) -> ListColumn:
    """The column of what was typed into a field; figures stand to the right."""
    column = TypedColumn(field)
    column.numeric = is_figure(field)
    return column


class TypedColumn(ListColumn):
    """What was typed into a field. Files have the figure or the time that it was read as, in the unit of the field."""

    def __init__(self, field: Field) -> None:
        super().__init__(field.label, lambda row: row.typed.get(field.name), unit=unit_of(field))
        self.field = field

    def written(self, value: Any) -> str:
        return as_text(self.field, value)

    def plain_value(self, value: Any) -> Plain:
        try:
            if self.numeric:
                return read_number(self.field, value)
            if self.field.kind == Kind.MOMENT:
                moment, _ = read_moment(self.field, value)
                return timezone.localtime(moment).replace(tzinfo=None)
        except Unreadable:
            # What cannot be read as either is saved as it was typed.
            return str(value)
        return str(value)


def with_latest(records: QuerySet[Record]) -> QuerySet[Record]:
    """Records with what stands on them, in the same query."""
    newest = Version.objects.filter(record=OuterRef("pk")).order_by("-serial").values("values")[:1]
    return records.annotate(standing=Subquery(newest))
