"""A forger with the whole database: takes the triggers away and makes every digest inside fit what was changed.

What is written here shares nothing with the proof but the definition of what is hashed (DEVELOPERS.md).
"""

from __future__ import annotations

import hashlib
import json
from datetime import UTC

from django.db import connection, models

from distillery.database.guards import remove
from distillery.seals.entries import entries
from distillery.seals.models import BooksSeal
from distillery.trail.checks import all_guards
from distillery.trail.guards import content_sql
from distillery.trail.kept import kept_tables
from ledger.models import Movement

NOTHING_BEFORE = "0" * 64


def digest(previous: str, content: object) -> str:
    line = json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=True)
    return hashlib.sha256(f"{previous}\n{line}".encode("ascii")).hexdigest()


def take_the_triggers_away() -> None:
    remove(connection, all_guards(connection))


def make_the_trail_fit(row: models.Model) -> None:
    """Writes what the row says now into its newest entry, as if it had always been so."""
    table = row._meta.db_table
    [kept] = [one for one in kept_tables(connection) if one.table == table]
    content = content_sql(connection.vendor, kept, "t")
    with connection.cursor() as cursor:
        cursor.execute(
            f'UPDATE trail_entry SET content = (SELECT {content} FROM {table} t WHERE t."{kept.key}" = %s) WHERE id = '
            '(SELECT MAX(id) FROM trail_entry e WHERE e."table" = %s AND e."row" = %s)',
            [row.pk, table, str(row.pk)],
        )


def make_the_seals_fit() -> None:
    """Works every seal of the books out again over what stands there now."""
    trail = iter([*entries()])
    row = next(trail, None)
    previous = so_far = NOTHING_BEFORE
    for one in BooksSeal.objects.order_by("number"):
        while row is not None and row[0] <= one.entry:
            so_far = digest(so_far, list(row))
            row = next(trail, None)
        one.entry_digest, one.previous_seal = so_far, previous
        if one.movement:
            one.movement_seal = Movement.objects.get(pk=one.movement).seal
        one.seal = previous = digest(
            previous,
            {
                "number": one.number,
                "made_at": one.made_at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ"),
                "movements": [one.movement, one.movement_seal],
                "trail": [one.entry, one.entry_digest],
            },
        )
        one.save()
