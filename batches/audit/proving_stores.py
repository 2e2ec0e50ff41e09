"""Proves the books of the stores: that the entries which stand are what the versions in the books say, each taken back
by its exact opposite, that counts bring their book to what was found, and that each lot's row is what they come to.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import islice

from batches.models import Record, State, Version
from batches.records.versions import typed_of
from batches.sheets.materials.said import lines_of, stock_fields
from batches.sheets.register import all_sheets, sheet_of
from batches.sheets.site import Site
from batches.sheets.typed.read_sheet import read_fields
from batches.standing import version_in_books
from batches.stores.book import books_of, key_of
from batches.stores.kinds import Act, StockLine
from batches.stores.models import Lot, StockEntry
from batches.stores.silos import as_said, said_of
from batches.stores.writing import worked_out_of

CHUNK = 500
# A lot has dozens of entries, all of which are read with it.
LOTS = 50


class _SiteAsRead(Site):
    """The site while nothing is written into it: a record of a number is looked up once."""

    def __init__(self) -> None:
        super().__init__()
        self._by_number: dict[tuple[str, str], Record | None] = {}

    def record(self, kind: str, number: str) -> Record | None:
        """A record of one kind by its number; None where there is none."""
        key = kind, number.strip()
        if key not in self._by_number:
            self._by_number[key] = super().record(*key)
        return self._by_number[key]


def prove_stores() -> Iterator[str]:
    """One sentence for each entry or lot of the stores that is not what the records say."""
    yield from _taken_back()
    yield from _said()
    yield from _lots()


def _taken_back() -> Iterator[str]:
    """Opposites that are none."""
    opposites = StockEntry.objects.filter(takes_back__isnull=False).select_related("takes_back", "lot")
    for entry in opposites.iterator(chunk_size=CHUNK):
        of = entry.takes_back
        assert of is not None
        same = ("lot_id", "act", "happened_at", "said", "field", "row", "name", "silo")
        apart = any(getattr(entry, name) != getattr(of, name) for name in same)
        if apart or entry.amount != -of.amount or of.takes_back_id is not None:
            yield f"stores, lot {entry.lot.code}: entry {entry.pk} is not the opposite of entry {of.pk}"


def _said() -> Iterator[str]:
    """Records whose entries are not what the version that the books hold says."""
    kinds = _kinds()
    for apart in records_apart():
        yield f"{apart.record.number}: what the stores keep of it is not what stands on its version in the books"
    others = StockEntry.objects.exclude(version__record__kind__in=kinds).select_related("version__record")
    yield from (
        f"{one.version.record.number}: the stores keep entry {one.pk} of a record that says nothing of them"
        for one in others.iterator(chunk_size=CHUNK)
    )


def _kinds() -> list[str]:
    return [sheet.kind for sheet in all_sheets() if sheet.keeps_stock]


@dataclass(frozen=True, slots=True)
class Apart:
    """A record whose entries are not what `version`, which the books hold, says: `lines`."""

    record: Record
    version: Version
    lines: list[StockLine]


def records_apart() -> Iterator[Apart]:
    """Records whose entries in the stores are not what the version that the books hold says."""
    site = _SiteAsRead()
    kinds = _kinds()
    records = Record.objects.filter(kind__in=kinds).order_by("pk").iterator(chunk_size=CHUNK)
    while together := list(islice(records, CHUNK)):
        kept: dict[int, list[StockEntry]] = defaultdict(list)
        standing = StockEntry.objects.standing().filter(version__record__in=together)
        for entry in standing.select_related("lot", "version").order_by("pk"):
            kept[entry.version.record_id].append(entry)
        newest = _newest(together)
        for record in together:
            said = _lines(record, newest[record.pk], site)
            if Counter(map(said_of, said)) != Counter(one for one, _entries in as_said(kept[record.pk])):
                yield Apart(record, newest[record.pk], said)


def _newest(records: Sequence[Record]) -> dict[int, Version]:
    versions = Version.objects.filter(record__in=records).order_by("serial")
    newest = {version.record_id: version for version in versions}
    waiting = (record for record in records if record.state == State.WAITING)
    return newest | {record.pk: version_in_books(record) for record in waiting}


def _lines(record: Record, version: Version, site: Site) -> list[StockLine]:
    if record.state == State.VOID or (record.state == State.WAITING and not counts_already(record, version)):
        return []
    sheet, (typed, rows) = sheet_of(record.kind), typed_of(version)
    asked, single = stock_fields(sheet), {one.name for one in sheet.fields}
    of_lines = sorted(asked - single)
    values = read_fields(sheet, typed, sorted(asked & single), site=site)
    return list(lines_of(sheet, record.number, values, [read_fields(sheet, row, of_lines, site=site) for row in rows]))


def counts_already(record: Record, version: Version) -> bool:
    """True where a record that waits for a second person stands in the books by an earlier version."""
    return Version.objects.filter(record=record, serial__gt=version.serial).exists()


def _lots() -> Iterator[str]:
    """Lots whose entries add what their act says not, whose counts leave another book, or whose row says otherwise."""
    lots = Lot.objects.order_by("pk").iterator(chunk_size=LOTS)
    while together := list(islice(lots, LOTS)):
        books, comes_to = books_of(together), worked_out_of(together)
        for lot in together:
            for line in books[lot.pk]:
                entry = line.entry
                adds = {Act.RECEIVED: entry.said, Act.ISSUED: -entry.said}.get(Act(entry.act))
                if entry.amount != adds if adds is not None else line.held != entry.said:
                    yield f"stores, lot {lot.code}: entry {entry.pk} does not come to what its sheet says"
            kept = {name: getattr(lot, name) for name in ("code", "name", "silo", "held", "received", "receipts")}
            kept |= {"first_at": lot.first_at, "last_at": lot.last_at}
            if lot.key != key_of(lot.code) or kept != comes_to[lot.pk]:
                yield f"stores, lot {lot.code}: what it holds is not what its entries come to"
