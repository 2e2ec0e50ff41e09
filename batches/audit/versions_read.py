"""Versions read as rows, for whoever reads all of them: the proof and an export."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from django.db.models import QuerySet

from batches.hands import COLUMNS as HANDS
from batches.models import Version
from distillery.database.rows_as_kept import MomentText, Row, rows_of

# With the moment and the hands behind them in the order of `batches.records.versions.SAID`.
_TEXTS: Final = ("record__kind", "record__number", "serial", "values", "rows", "notes", "reason", "person__username")


def written_versions(versions: QuerySet[Version]) -> Iterator[tuple[int, str, Row]]:
    """Versions in the order of their records and, within each, of the savings: key of the record, digest, and what
    `line_of` takes."""
    in_order = versions.order_by("record_id", "serial")
    for record, digest, *said in rows_of(in_order, "record_id", "digest", *_TEXTS, MomentText("written_at"), *HANDS):
        yield record, digest, tuple(said)
