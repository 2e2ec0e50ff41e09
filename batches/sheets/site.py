"""What a sheet needs to know of the site while it is read and posted: the plant, and the records made so far.

One is made for each request or load and keeps what it has looked up. It only reads.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from datetime import datetime

from django.db.models import Q

from batches.models import Mention, Reading, Record, State, Version
from batches.sheets.register import all_sheets, telling
from batches.sheets.typed.moments import Unreadable
from batches.sheets.typed.parsing import read_number
from batches.standing import version_in_books
from distillery.plant.lookup import Plant
from distillery.plant.models import Vessel
from distillery.typed.spellings import spellings


class Site(Plant):
    """The plant as it stands, and what is on record."""

    def __init__(self) -> None:
        super().__init__()
        self._complete: dict[int, dict[str, str]] = {}
        self._numbered: dict[tuple[str, str], Record] = {}

    def record(self, kind: str, number: str) -> Record | None:
        """A record of one kind by its number; None where there is none. Always looked up afresh."""
        return Record.objects.filter(kind=kind, number=number.strip()).first()

    def record_meant(self, kind: str, typed: str) -> Record | None:
        """The record of a number, else the only one it can mean but for its noughts and capitals: ma7 is MA0007."""
        if "\x00" in typed:
            return None  # no text of PostgreSQL holds one
        found = self.record(kind, typed)
        if found is not None:
            return found
        meant = list(Record.objects.filter(kind=kind, number__in=spellings(typed.strip()))[:2])
        return meant[0] if len(meant) == 1 else None

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

    def read_typed(self, records: Iterable[Record]) -> None:
        """Reads what stands on these records together, those that are complete, for `typed_of` to have at hand."""
        complete = [one.pk for one in records if one.state == State.COMPLETE and one.pk not in self._complete]
        versions = Version.objects.filter(record__in=complete).order_by("serial").values_list("record_id", "values")
        self._complete |= {pk: json.loads(values) for pk, values in dict(versions).items()}

    def told(self, record: Record, name: str) -> str:
        """What a record tells other steps by a field of its sheet, as typed. Raises KeyError where it does not."""
        return self.typed_of(record).get(telling(record.kind, name).name, "")

    def told_text(self, record: Record, name: str) -> str:
        """The same, blank where it does not tell."""
        try:
            return self.told(record, name).strip()
        except KeyError:
            return ""

    def told_number(self, record: Record, name: str) -> float | None:
        """A figure that a record tells; None where there is none."""
        text = self.told_text(record, name)
        try:
            return float(read_number(telling(record.kind, name), text)) if text else None
        except Unreadable:
            return None

    def told_record(self, record: Record, name: str) -> Record | None:
        """The record that another one names and tells of; None without one. Complete ones are looked up once."""
        key = (telling(record.kind, name).record_kind, self.told(record, name).strip())
        if key not in self._numbered:
            named = self.record(*key) if key[1] else None
            if named is None or named.state != State.COMPLETE:
                return named
            self._numbered[key] = named
        return self._numbered[key]

    def last_into(self, washback: Vessel, at: datetime) -> Record | None:
        """The newest record whose work a washback holds by a moment; None without one."""
        works = [(sheet.kind, sheet.works_in.vessel) for sheet in all_sheets() if sheet.works_in is not None]
        there = Q(pk__in=())
        for kind, name in works:
            there |= Q(kind=kind, mentions__field=name)
        return (
            Record.objects.filter(
                there,
                happened_from__lte=at,
                mentions__what=Mention.What.VESSEL,
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
