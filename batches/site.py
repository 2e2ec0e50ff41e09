"""What a sheet needs to know of the site while it is read and posted: the plant, and the records made so far.

One is made for each request or load and keeps what it has looked up. It only reads.
"""

from __future__ import annotations

import json

from batches.models import Record, Version
from distillery.plant.lookup import Plant


class Site(Plant):
    """The plant as it stands, and what is on record."""

    def record(self, kind: str, number: str) -> Record | None:
        """A record of one kind by its number; None where there is none. Always looked up afresh."""
        return Record.objects.filter(kind=kind, number=number.strip()).first()

    def typed_of(self, record: Record) -> dict[str, str]:
        """What stands on a record now, as typed."""
        version = Version.objects.filter(record=record).order_by("-serial").first()
        typed: dict[str, str] = json.loads(version.values) if version else {}
        return typed
