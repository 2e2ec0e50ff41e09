"""Which records of a log are in the books already, asked once for the whole log instead of once for each record."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from itertools import islice

from batches.loading.entries import Entry
from batches.models import Record

# As many at a time as one question to the database may name.
BATCH = 500


@dataclass(slots=True)
class AlreadyThere:
    """Numbers, and what records without a number are known by, of a log's records that are there or were just saved.

    A record is read from the database when it is asked for, and then as it stands; what is not there is not asked for.
    """

    _numbers: set[str] = field(default_factory=set)
    _identities: set[tuple[str, str]] = field(default_factory=set)

    @classmethod
    def among(cls, entries: Iterable[Entry]) -> AlreadyThere:
        """Those that are there of the records these entries would make."""
        there, kinds, numbers = cls(), set(), []
        for entry in entries:
            if entry.number:
                numbers.append(entry.number)
            else:
                kinds.add(entry.sheet.kind)
        waiting = iter(numbers)
        while some := list(islice(waiting, BATCH)):
            there._numbers.update(Record.objects.filter(number__in=some).values_list("number", flat=True))
        known = Record.objects.filter(kind__in=kinds).exclude(identity="") if kinds else Record.objects.none()
        there._identities.update(known.values_list("kind", "identity"))
        return there

    def add(self, record: Record) -> None:
        """Notes a record that was saved: another entry of the log may say the same."""
        self._numbers.add(record.number)
        if record.identity:
            self._identities.add((record.kind, record.identity))

    def numbered(self, number: str) -> Record | None:
        """The record of a number."""
        return Record.objects.filter(number=number).first() if number in self._numbers else None

    def known_by(self, kind: str, identity: str) -> Record | None:
        """The record of a kind that is known by this."""
        if (kind, identity) not in self._identities:
            return None
        return Record.objects.filter(kind=kind, identity=identity).first()
