"""The list of movements: every entry of the books in the order of the chain, or of when it happened."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from django.db.models import Exists, OuterRef, QuerySet
from django.urls import reverse

from distillery import pages
from distillery.lists.columns import DifferenceColumn, FigureColumn, ListColumn, LpaColumn, MomentColumn
from distillery.lists.filters import DayFilter, HouseFilters, MonthFilter, OneOfFilter
from distillery.lists.tables import HouseTable
from distillery.plant.models import Vessel
from ledger.models import Movement, MovementKind
from ledger.statements.month import written_late
from ledger.statements.of_movements import (
    MovementAlcohol,
    alcohol_of_movements,
    difference_of_all,
    movements_about,
    taken_back_by,
)
from ledger.views.lists.entries import from_closed
from ledger.views.lists.filters import AboutVesselFilter, operations, people
from ledger.views.ways import record_href

STANDING = "standing"
TAKEN_BACK = "taken back"
LATE = "late"
STATES = (
    (STANDING, "Stands"),
    (TAKEN_BACK, "Taken back"),
    (LATE, "Written late"),
    *((str(one), one.label) for one in MovementKind),
)


def _state(row: Movement) -> pages.State | None:
    if row.corrects_id:
        return pages.State(pages.Kind.STRUCK, f"takes back {row.corrects_id}")
    if row.taken_back:  # type: ignore[attr-defined]
        return pages.State(pages.Kind.STRUCK, f"taken back by {row.taken_back}")  # type: ignore[attr-defined]
    return None


def _what(row: Movement) -> str:
    said = row.operation.capitalize()
    if row.kind in (MovementKind.RESTATEMENT, MovementKind.EXPLANATION):
        return f"{said}, {MovementKind(row.kind).label.lower()}"
    return said


class MovementTable(HouseTable):
    """Movements, newest in the chain first."""

    number = FigureColumn(
        "Movement", "pk", order=("pk",), href=lambda row: reverse("movement", kwargs={"number": row.pk})
    )
    happened = MomentColumn("Happened", "happened_at", order=("happened_at", "pk"), state=from_closed)
    written = MomentColumn("Written", "written_at")
    person = ListColumn("By", "person__shown_name")
    what = ListColumn("What", _what, state=_state)
    record = ListColumn("Record", "record_number", href=lambda row: record_href(row.record_kind, row.record_number))
    alcohol = LpaColumn("Alcohol", lambda row: row.amounts.alcohol_ul)
    difference = DifferenceColumn("Difference", lambda row: row.amounts.difference_ul)
    found = DifferenceColumn("Found at gauges", lambda row: row.amounts.found_ul)

    name = "movements"
    caption = "Movements"
    note = "alcohol: what came into vessels, casks and bottles or left the site"
    nothing = "No movements yet. The first one comes with the first record that is complete."
    nothing_fits = "No movements match. Clear the filter."

    class Meta(HouseTable.Meta):
        order_by = ("-number",)

    def prepare(self, rows: Sequence[Any]) -> None:
        numbers = [row.pk for row in rows]
        amounts, back = alcohol_of_movements(numbers), taken_back_by(numbers)
        for row in rows:
            row.amounts = amounts.get(row.pk, MovementAlcohol())
            row.taken_back = back.get(row.pk, 0)

    def totals(self, rows: Iterable[Any]) -> Mapping[str, Any]:
        assert isinstance(rows, QuerySet)
        apart, found = difference_of_all(rows)
        return {"difference": apart, "found": found}


class VesselFilter(AboutVesselFilter):
    """Movements that moved or gauged what is in a vessel or cask."""

    def narrowed(self, rows: Any, vessel: Vessel) -> Any:
        return rows.filter(movements_about(vessel))


class StateFilter(OneOfFilter):
    """Movements that stand, those taken back, those written late, or those of a kind."""

    def filter(self, rows: Any, value: Any) -> Any:
        if not value:
            return rows
        if value == STANDING:
            return rows.standing()
        if value == TAKEN_BACK:
            return rows.filter(Exists(Movement.objects.filter(corrects=OuterRef("pk"))))
        if value == LATE:
            return rows.filter(written_late(), kind=MovementKind.OPERATION)
        return rows.filter(kind=value)


class MovementFilters(HouseFilters):
    """By month, days, vessel, operation, person and state."""

    month = MonthFilter("happened_at")
    since = DayFilter("happened_at", label="From")
    until = DayFilter("happened_at", label="To", until=True)
    vessel = VesselFilter("pk", label="Vessel or cask")
    operation = OneOfFilter("operation", label="Operation", choices=operations)
    person = OneOfFilter("person__username", label="Written by", choices=people)
    state = StateFilter("kind", label="State", choices=lambda: STATES)


def movements() -> QuerySet[Movement]:
    """All movements with what their list reads."""
    return Movement.objects.select_related("person")
