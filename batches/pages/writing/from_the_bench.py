"""Open sheets that wait for a gauge of a vessel: the bench carries what it was given into them with one press."""

from __future__ import annotations

from urllib.parse import urlencode

from batches.models import Record, State
from batches.pages.records.shown import RecordAsWritten, moments_left, record_address
from batches.steps import sheet_of
from distillery.bench.answer import GaugeRead
from distillery.pages import Link
from distillery.people.models import Person
from distillery.people.roles import may_write

# No site has more going on at once.
MOST_OPEN = 20


def gauges_waiting(person: Person, read: GaugeRead) -> list[Link]:
    """A way for each gauge of that vessel that an open record still has to be given, in the order of their sheets."""
    if not may_write(person):
        return []
    found = []
    for record in Record.objects.filter(state=State.OPEN).order_by("-happened_from", "-pk")[:MOST_OPEN]:
        written = RecordAsWritten(record, sheet_of(record.kind))
        left = {moment.name for moment in moments_left(written)}
        for gauge in written.sheet.gauges:
            vessel = written.typed.get(gauge.vessel, "")
            moment = written.sheet.moment_of(gauge.name("dip_mm"))
            # One that may never come waits for nothing; it has a way of its own.
            waits = moment.name in left and not moment.optional
            if not waits or vessel.casefold() != read.vessel.casefold():
                continue
            boxes = {gauge.name(part): value for part, value in read.readings.items()}
            address = record_address(record, "record_add")
            found.append(Link(f"{gauge.label}, {record.number}", f"{address}?{urlencode(boxes)}"))
    return found
