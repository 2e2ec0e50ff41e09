"""Who entered rows of rules, and when: read from the trail, which has an entry for each."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db import models

from distillery.trail.models import Entry
from distillery.trail.who import who_wrote


@dataclass(frozen=True, slots=True)
class Entered:
    """By whom (in words), when by real time, and the number of the entry, which says what was written before what."""

    by: str
    at: datetime
    entry: int


def entered(rows: Iterable[models.Model]) -> dict[int, Entered]:
    """By the key of each of these rows of one table. Three queries."""
    there = list(rows)
    if not there:
        return {}
    keys = [str(row.pk) for row in there]
    found: dict[str, Entry] = {}
    for entry in Entry.objects.filter(table=there[0]._meta.db_table, row__in=keys).order_by("-pk"):
        found[entry.row] = entry
    who = who_wrote([(entry, {}, True) for entry in found.values()])
    return {int(row): Entered(who[entry.pk], entry.at, entry.pk) for row, entry in found.items()}
