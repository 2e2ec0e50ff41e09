"""What a sheet needs to know of the site while it is read and posted: the plant, and the records made so far.

One is made for each request or load and keeps what it has looked up. It only reads.
"""

from __future__ import annotations

import json
from datetime import datetime

from batches.models import Mention, Reading, Record, State, Version
from batches.records.standing import version_in_books
from distillery.plant.lookup import Plant
from distillery.plant.models import Vessel

# The steps that fill a washback, and the field of each that names it.
FERMENTATION, MASH, WASHBACK = "fermentation", "mash", "washback"


class Site(Plant):
    """The plant as it stands, and what is on record."""

    def __init__(self) -> None:
        super().__init__()
        self._complete: dict[int, dict[str, str]] = {}
        self._numbered: dict[tuple[str, str], Record] = {}

    def record(self, kind: str, number: str) -> Record | None:
        """A record of one kind by its number; None where there is none. Always looked up afresh."""
        return Record.objects.filter(kind=kind, number=number.strip()).first()

    def typed_of(self, record: Record) -> dict[str, str]:
        """What stands on a record, as typed. What is complete is looked up once: only a correction could change it."""
        if record.pk in self._complete:
            return self._complete[record.pk]
        version = Version.objects.filter(record=record).order_by("-serial").first()
        if version is not None and record.state == State.WAITING:
            # A correction that waits for a second person counts for nothing yet.
            version = version_in_books(record)
        typed: dict[str, str] = json.loads(version.values) if version else {}
        if record.state == State.COMPLETE:
            self._complete[record.pk] = typed
        return typed

    def typed_by_number(self, kind: str, number: str) -> dict[str, str]:
        """What stands on the record of a number; nothing where there is none. Complete ones are looked up once."""
        key = (kind, number.strip())
        if key not in self._numbered:
            record = self.record(*key) if key[1] else None
            if record is None or record.state != State.COMPLETE:
                return self.typed_of(record) if record is not None else {}
            self._numbered[key] = record
        return self.typed_of(self._numbered[key])

    def last_into(self, washback: Vessel, at: datetime) -> Record | None:
        """The newest mash or fermentation begun in a washback by a moment; None where there is none on record."""
        return (
            Record.objects.filter(
                kind__in=(MASH, FERMENTATION),
                happened_from__lte=at,
                mentions__what=Mention.What.VESSEL,
                mentions__field=WASHBACK,
                mentions__code=washback.code,
            )
            .exclude(state=State.VOID)
            .order_by("happened_from", "pk")
            .last()
        )

    def logged(self, number: str, quantity: str) -> list[tuple[datetime, str]]:
        """The readings of a quantity along the way of a record that are not struck out, as typed, in order of time."""
        return list(
            Reading.objects.filter(record__number=number, quantity=quantity, struck_by__isnull=True)
            .exclude(value="")
            .order_by("at", "pk")
            .values_list("at", "value")
        )
