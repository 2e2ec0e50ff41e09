"""What a trace cannot know: alcohol whose records go no further back, though something must have been before them.

What came in from outside or was made here begins where its record says so: a lot received, wash fermented, spirit
under bond. Stock at the opening of the books, and what a gauge found in a vessel whose mix nobody wrote down, begin
nowhere; that much is said, and counted beside the rest.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from batches.models import Record
from batches.sheets.register import sheet_of
from ledger.models import AccountKind, Leg

OPENING: Final = "source:opening stock"
# Shares below this are what is left of adding up figures with so many digits.
LEAST: Final = 1e-9
# As many are told apart by themselves.
MOST: Final = 5_000


@dataclass(frozen=True, slots=True)
class NotKnown:
    """Pure alcohol in microlitres that nothing on record lies behind, its share of what was asked about, and why.

    `record_id` is where its chain ends; None for an entry of no record.
    """

    record_id: int | None
    record: str
    why: str
    pure_ul: int
    share: float


def not_known(left: Mapping[int, float], asked_ul: float, unnamed: float) -> list[NotKnown]:
    """What of the shares left at the ends of a trace has no origin on record, the largest first.

    `unnamed` is the share that lies in the vessel itself and that no record gave.
    """
    ends = {pk: share for pk, share in left.items() if share > LEAST}
    found = [NotKnown(None, "", "an entry of no record", round(unnamed * asked_ul), unnamed)] if unnamed > LEAST else []
    largest = sorted(ends, key=lambda pk: (-ends[pk], pk))[:MOST]
    records = Record.objects.filter(pk__in=largest).in_bulk()
    sources = _sources([record.number for record in records.values()])
    for pk in largest:
        record = records[pk]
        why = _why(record, sources.get(record.number, set()))
        if why:
            found.append(NotKnown(pk, record.number, why, round(ends[pk] * asked_ul), ends[pk]))
    return found


def _why(record: Record, sources: set[str]) -> str:
    """Why nothing is known behind a record; blank where it is an origin itself."""
    if OPENING in sources:
        return "in stock when the books were opened"
    if sources or sheet_of(record.kind).receives:
        return ""
    return "more than the records before it account for"


def _sources(numbers: list[str]) -> dict[str, set[str]]:
    found: dict[str, set[str]] = {}
    legs = Leg.objects.standing().filter(movement__record_number__in=numbers, account__kind=AccountKind.SOURCE)
    for number, code in legs.values_list("movement__record_number", "account__code").distinct().order_by():
        found.setdefault(number, set()).add(code)
    return found
