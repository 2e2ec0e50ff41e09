"""Which records of a log are in the books already, and whether a row says what is on record, says more, or says
something else.

Texts are compared by what they mean: 62.50 is 62.5, and a time is the same time however it was written.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import islice

from batches.loading.entries import Entry
from batches.models import Record, Version
from batches.records.versions import typed_of
from batches.sheets.sheet import Field, Kind
from batches.sheets.typed.moments import Unreadable
from batches.sheets.typed.parsing import read

# As many at a time as one question to the database may name.
BATCH = 500


@dataclass(slots=True)
class AlreadyThere:
    """Numbers, and what records without a number are known by, of a log's records that are there or were just saved;
    asked once for the whole log instead of once for each record.

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


@dataclass(frozen=True, slots=True)
class Conflict:
    """A field in which row and record differ: its name, the repeating line it is on, what stands there and here."""

    field: str
    row: int | None
    there: str
    here: str

    def sentence(self, number: str) -> str:
        """What is wrong, and the way out."""
        return (
            f"{number} exists with other figures: {self.there} there, {self.here} here. "
            "Correct it on its page, with the reason."
        )


@dataclass(frozen=True, slots=True)
class Match:
    """What came of comparing: the same as some version, or more than the newest, or in conflict with it."""

    is_known: bool
    conflicts: tuple[Conflict, ...] = ()


def compare(entry: Entry, record: Record) -> Match:
    """Compares a row with every version of a record: a record put right since still knows the row it came from."""
    versions = [typed_of(version) for version in Version.objects.filter(record=record).order_by("-serial")]
    for typed, rows in versions:
        if entry.values.keys() <= typed.keys() and not conflicts(entry, typed, rows):
            return Match(is_known=True)
    return Match(is_known=False, conflicts=tuple(conflicts(entry, *versions[0])))


def conflicts(entry: Entry, typed: Mapping[str, str], rows: Sequence[Mapping[str, str]]) -> list[Conflict]:
    """Fields that the row and the record both hold, with other figures."""
    sheet = entry.sheet
    found = [
        Conflict(name, None, typed[name], cell)
        for name, cell in entry.values.items()
        if name in typed and not same(sheet.field(name), typed[name], cell)
    ]
    if sheet.rows is None:
        return found
    each = sheet.rows.each
    named = sheet.rows.named
    there = {named(row): row for row in rows}
    for index, line in enumerate(entry.rows):
        if not line:
            # A row of a log says no line where a step need not have any.
            continue
        row = there.pop(named(line), None)
        if row is None:
            found.append(Conflict(each, index, "nothing", line.get(each, "blank")))
            continue
        found += [
            Conflict(name, index, row.get(name, "blank"), cell)
            for name, cell in line.items()
            if not same(sheet.field(name), row.get(name, ""), cell)
        ]
    return found + [Conflict(each, None, row.get(each, "blank"), "nothing") for row in there.values()]


def same(one: Field, first: str, second: str) -> bool:
    """True where two texts mean the same in a field."""
    if first == second:
        return True
    if one.kind in (Kind.VESSEL, Kind.RECORD, Kind.TEXT):
        return first.casefold() == second.casefold()
    try:
        return read(one, first).value == read(one, second).value
    except Unreadable:
        return False
