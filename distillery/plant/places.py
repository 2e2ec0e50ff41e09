"""Where casks can lie and who holds the keys: rows of a warehouse with their tiers, and keyholders.

Each row is an entry with who made it and when, and none is changed: what is entered later about the same row of a
warehouse, or about the same key taken on the same day by the same person, stands in its place.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date

from django.db import models
from django.db.models import Q

from distillery.plant.metrology import Kept


class WarehouseRow(Kept):
    """A row of a warehouse, and on how many tiers casks lie in it; none where it is no longer used."""

    warehouse = models.CharField(max_length=40)
    row = models.CharField(max_length=20)
    tiers = models.PositiveIntegerField()

    class Meta:
        ordering = ["warehouse", "id"]
        indexes = [models.Index(fields=["warehouse", "row"], name="row_of_a_warehouse")]

    def __str__(self) -> str:
        return f"{self.warehouse}, row {self.row}"


class Keyholder(Kept):
    """Who holds which key of a warehouse, from a day on, and up to which day where it was given back."""

    warehouse = models.CharField(max_length=40)
    name = models.CharField(max_length=80)
    key = models.CharField(max_length=40)
    from_day = models.DateField()
    until_day = models.DateField(null=True)

    class Meta:
        ordering = ["warehouse", "id"]
        indexes = [models.Index(fields=["warehouse", "name"], name="keyholder_of_a_warehouse")]
        constraints = [
            models.CheckConstraint(
                condition=Q(until_day__isnull=True) | Q(until_day__gte=models.F("from_day")),
                name="key_given_back_after_it_was_taken",
            )
        ]

    def __str__(self) -> str:
        return f"{self.name}, {self.key} of {self.warehouse}"


def in_walking_order(text: str) -> tuple[tuple[int, int | str], ...]:
    """What rows and tiers are sorted by, so that row 10 comes behind row 9 and row 9A between them."""
    parts: list[tuple[int, int | str]] = []
    for one in re.findall(r"[0-9]+|[^0-9]+", text.casefold()):
        parts.append((0, int(one)) if one.isascii() and one.isdigit() else (1, one))
    return tuple(parts)


def rows_of(warehouse: str = "") -> list[WarehouseRow]:
    """The rows in use as they were entered last, of one warehouse or of all, in the order in which one walks."""
    entered = WarehouseRow.objects.order_by("pk")
    if warehouse:
        entered = entered.filter(warehouse=warehouse)
    last = {(one.warehouse, one.row): one for one in entered}
    in_use = (one for one in last.values() if one.tiers)
    return sorted(in_use, key=lambda one: (in_walking_order(one.warehouse), in_walking_order(one.row)))


def no_such_place(warehouse: str, row: str, tier: str) -> str:
    """A sentence where the site's rows are entered and this place is none of them; blank otherwise."""
    rows = {one.row.casefold(): one for one in rows_of(warehouse)}
    if not rows or not row:
        return ""
    known = rows.get(row.casefold())
    if known is None:
        return f"{warehouse} has no row {row}; it has {', '.join(one.row for one in rows.values())}."
    if tier.isascii() and tier.isdigit() and not 1 <= int(tier) <= known.tiers:
        return f"Row {known.row} of {warehouse} has {known.tiers} tiers; {tier} is none of them."
    return ""


def keyholders(warehouse: str = "", *, on: date | None = None) -> list[Keyholder]:
    """Who holds keys as it was entered last, of one warehouse or of all, those of a day where one is given."""
    entered: Iterable[Keyholder] = Keyholder.objects.order_by("pk")
    last = {
        (one.warehouse, one.name.casefold(), one.key.casefold(), one.from_day): one
        for one in entered
        if not warehouse or one.warehouse == warehouse
    }
    held = (
        one
        for one in last.values()
        if on is None or (one.from_day <= on and (one.until_day is None or on <= one.until_day))
    )
    return sorted(held, key=lambda one: (in_walking_order(one.warehouse), one.name.casefold(), one.from_day))
