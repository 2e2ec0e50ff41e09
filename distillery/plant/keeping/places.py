"""How a site enters the rows of its warehouses and who holds their keys: entries with a person, none ever changed."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from django.utils import timezone

from distillery.people.models import Person
from distillery.plant.keeping.measuring import Unkeepable
from distillery.plant.models import Cask
from distillery.plant.places import Keyholder, WarehouseRow, keyholders
from distillery.seals.writing import signed

MOST_TIERS = 40
LONGEST_WAREHOUSE, LONGEST_ROW, LONGEST_NAME, LONGEST_KEY = 40, 20, 80, 40


@signed("plant")
def add_rows(*, warehouse: str, rows: Sequence[str], tiers: int, person: Person | None) -> int:
    """Rows of a warehouse with their tiers, none (0) for rows no longer used; gives how many. Raises Unkeepable."""
    name = _said("warehouse", warehouse, LONGEST_WAREHOUSE)
    if not rows:
        raise Unkeepable("rows", "Name at least one row.")
    if not 0 <= tiers <= MOST_TIERS:
        raise Unkeepable("tiers", f"{tiers} tiers cannot be: 0 to {MOST_TIERS}.")
    if not tiers:
        left = Cask.objects.filter(warehouse=name, row__in=rows).select_related("vessel").first()
        if left is not None:
            raise Unkeepable("rows", f"Cask {left.vessel.code} lies in row {left.row}: move it first.")
    now = timezone.now()
    return len(
        WarehouseRow.objects.bulk_create(
            WarehouseRow(
                warehouse=name, row=_said("rows", row, LONGEST_ROW), tiers=tiers, person=person, entered_at=now
            )
            for row in dict.fromkeys(rows)
        )
    )


@signed("plant")
def add_keyholder(
    *, warehouse: str, name: str, key: str, from_day: date, until_day: date | None, person: Person | None
) -> Keyholder:
    """Who holds which key from a day on, or until when. Raises Unkeepable."""
    if until_day is not None and until_day < from_day:
        raise Unkeepable("until_day", "A key is given back on the day it was taken, or later.")
    row = Keyholder(
        warehouse=_said("warehouse", warehouse, LONGEST_WAREHOUSE),
        name=_said("name", name, LONGEST_NAME),
        key=_said("key", key, LONGEST_KEY),
        from_day=from_day,
        until_day=until_day,
        person=person,
        entered_at=timezone.now(),
    )
    said = (row.name.casefold(), row.key.casefold(), row.from_day, row.until_day)
    if said in {
        (one.name.casefold(), one.key.casefold(), one.from_day, one.until_day) for one in keyholders(row.warehouse)
    }:
        raise Unkeepable("name", f"{row.name} stands there with that key and that day already.")
    row.save()
    return row


def _said(field: str, text: str, longest: int) -> str:
    said = " ".join(text.split())
    if not said or not said.isprintable():
        raise Unkeepable(field, "This is blank: fill it in.")
    if len(said) > longest:
        raise Unkeepable(field, f"'{said[:20]}…' is longer than {longest} characters.")
    return said
