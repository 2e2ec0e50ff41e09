"""What is still open of a warehouse: records about one that have begun and not ended."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime

from batches.models import Record, State, Version
from batches.sheets.register import all_sheets


@dataclass(frozen=True, slots=True)
class StillOpen:
    """A record about a warehouse that has not ended: which warehouse, and since when."""

    record: Record
    warehouse: str
    since: datetime


def still_open() -> list[StillOpen]:
    """All of them, the longest first."""
    fields = {sheet.kind: sheet.of_warehouse for sheet in all_sheets() if sheet.of_warehouse}
    records = list(Record.objects.filter(state=State.OPEN, kind__in=fields).order_by("happened_from", "pk"))
    said: dict[int, str] = {}
    for version in Version.objects.filter(record__in=records).order_by("serial"):
        said[version.record_id] = version.values
    return [
        StillOpen(one, json.loads(said.get(one.pk, "{}")).get(fields[one.kind], ""), one.happened_from)
        for one in records
    ]
