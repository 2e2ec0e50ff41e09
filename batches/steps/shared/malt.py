"""The book of malt by lot: what was received less what was mashed, in kilograms.

Malt is not alcohol, so it has no account in the ledger; its book is read off the records themselves.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from batches.models import Mention, Record, State, Version
from batches.sheets.parsing import Unreadable, read_number
from batches.sheets.sheet import Field, Kind
from batches.sheets.site import Site

_WEIGHT = Field(name="kilograms", label="Weight", kind=Kind.NUMBER, unit="kg", decimals=1)


@dataclass(frozen=True, slots=True)
class MaltLine:
    """One mash's draw on a lot, or the delivery itself, in kg; deliveries add, mashes take."""

    record: Record
    kilograms: Decimal


def malt_book(lot: Record, *, site: Site) -> list[MaltLine]:
    """The delivery of a lot and each mash that drew on it, in order of time."""
    received = _kilograms(site.typed_of(lot).get("kilograms", ""))
    lines = [MaltLine(lot, received)]
    for mash, typed in _mashes_of(lot):
        lines.append(MaltLine(mash, -_kilograms(typed.get("grist_kg", ""))))
    return lines


def left_in_lot(lot: Record, *, site: Site, without: str = "") -> Decimal:
    """Kilograms the book of a lot holds, one mash left out; below nothing where more was mashed than received."""
    return sum((line.kilograms for line in malt_book(lot, site=site) if line.record.number != without), Decimal(0))


def _mashes_of(lot: Record) -> Iterable[tuple[Record, dict[str, str]]]:
    mashes = list(
        Record.objects.filter(
            kind="mash", mentions__what=Mention.What.RECORD, mentions__field="malt_lot", mentions__code=lot.number
        )
        .exclude(state=State.VOID)
        .order_by("happened_from", "id")
    )
    newest: dict[int, dict[str, str]] = {}
    for record_id, values in (
        Version.objects.filter(record__in=mashes).order_by("serial").values_list("record_id", "values")
    ):
        newest[record_id] = json.loads(values)
    for mash in mashes:
        yield mash, newest.get(mash.pk, {})


def _kilograms(typed: str) -> Decimal:
    try:
        return read_number(_WEIGHT, typed)
    except Unreadable:
        return Decimal(0)
