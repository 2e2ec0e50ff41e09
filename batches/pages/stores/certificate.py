"""What the receipts of a lot say about it: the certificate's figures as they stand on their sheets."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from batches.models import Record
from batches.pages.records.shown import as_text, record_address, unit_of
from batches.records.versions import typed_of
from batches.sheets.register import sheet_of
from batches.sheets.sheet import Field
from batches.standing import version_in_books
from batches.stores.book import BookLine
from batches.stores.kinds import Act
from batches.stores.models import Lot
from distillery import pages


@dataclass(frozen=True, slots=True)
class Certificate:
    """One receipt of a lot: its record, and what it says of the lot."""

    record: pages.Link
    facts: Sequence[pages.Fact]


def certificate_of(lot: Lot, lines: Sequence[BookLine]) -> list[Certificate]:
    """What each receipt of a lot says of it, the newest last; nothing for a lot that was never received."""
    found = []
    for line in lines:
        if line.entry.act != Act.RECEIVED:
            continue
        record = line.entry.version.record
        found.append(Certificate(pages.Link(record.number, record_address(record)), _facts(record, line.entry.row)))
    return found


def _facts(record: Record, row: int | None) -> list[pages.Fact]:
    sheet = sheet_of(record.kind)
    typed, rows = typed_of(version_in_books(record))
    facts = _said(sheet.fields, typed)
    return facts + (_said(sheet.row_fields, rows[row]) if row is not None and row < len(rows) else [])


def _said(fields: Sequence[Field], typed: Mapping[str, str]) -> list[pages.Fact]:
    return [
        pages.Fact(one.label, as_text(one, typed[one.name]), unit_of(one, typed[one.name]))
        for one in fields
        if typed.get(one.name)
    ]
