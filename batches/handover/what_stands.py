"""What stands as a shift ends, filled in by the program: records that go on, what waits, what is to be looked into."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import datetime
from typing import Final

from django.db.models import OuterRef, Subquery

from batches.handover.noting import notes_of_shift
from batches.models import Reading, Record, State
from batches.sheets.register import sheet_of
from batches.sheets.site import Site
from distillery import figures
from distillery.clock.reading import books_now
from ledger.enquiries.models import Enquiry
from ledger.enquiries.standing import UNANSWERED, standings

Line = tuple[str, str]

GOING_ON: Final = "Going on"
WAITING: Final = "Waits for a second person"
TO_LOOK_INTO: Final = "To look into"
NOTED: Final = "Noted"
MOST_ENQUIRIES: Final = 20
NOTHING: Final = "Nothing is going on, nothing waits, and there is nothing to look into."


def what_stands(now: datetime | None = None) -> list[Line]:
    """Each line a heading and a text, in the order of the sheet. The number of queries grows with nothing written."""
    at = now or books_now()
    return [
        *((GOING_ON, text) for text in _going_on(at)),
        *((WAITING, f"{one.number}, {sheet_of(one.kind).title.lower()}") for one in _waiting()),
        *((TO_LOOK_INTO, text) for text in _enquiries()),
        *((NOTED, text) for text in _notes(at)),
    ]


def _going_on(now: datetime) -> Iterable[str]:
    standing = Reading.objects.filter(struck_by__isnull=True).exclude(value="")
    last_at = standing.filter(record=OuterRef("pk")).order_by("-at").values("at")[:1]
    records = Record.objects.filter(state=State.OPEN).annotate(last_at=Subquery(last_at))
    rows = list(records.order_by("happened_from", "pk"))
    times = {one.last_at for one in rows if one.last_at is not None}
    read: dict[int, list[Reading]] = defaultdict(list)
    for reading in standing.filter(record__in=rows, at__in=times).order_by("-pk"):
        read[reading.record_id].append(reading)
    site = Site()
    for one in rows:
        last = _to_tell(one, [each for each in read[one.pk] if each.at == one.last_at])
        yield ", ".join((_named(one, site), _how_long(one, now), _last_read(one, last)))


def _to_tell(record: Record, readings: list[Reading]) -> Reading | None:
    """Of what was read last, what the sheet draws; else any of it."""
    chart = sheet_of(record.kind).chart
    drawn = (one for one in readings if chart is not None and one.quantity == chart.quantity)
    return next(drawn, next(iter(readings), None))


def _named(record: Record, site: Site) -> str:
    """'Fermentation FE0021 in WB1': the vessel that it occupies or works in."""
    sheet = sheet_of(record.kind)
    field = sheet.occupies or (sheet.works_in.vessel if sheet.works_in is not None else "")
    vessel = site.told(record, field) if field else ""
    return f"{sheet.title} {record.number}{f' in {vessel}' if vessel else ''}"


def _how_long(record: Record, now: datetime) -> str:
    if record.happened_from > now:
        return f"from {figures.moment(record.happened_from)}"
    return f"{figures.span(now - record.happened_from)} on"


def _last_read(record: Record, reading: Reading | None) -> str:
    if reading is None:
        return "no reading yet"
    declared = sheet_of(record.kind).reading(reading.quantity)
    label = declared.label if declared is not None else reading.quantity
    unit = f" {declared.unit}" if declared is not None and declared.unit != "relative density" else ""
    return f"{label.lower()} {reading.value}{unit} at {figures.moment(reading.at)}"


def _waiting() -> list[Record]:
    return list(Record.objects.filter(state=State.WAITING).order_by("happened_from", "pk"))


def _enquiries() -> list[str]:
    """Enquiries nobody has answered, the newest of them."""
    found = standings(Enquiry.objects.order_by("-pk")[: 5 * MOST_ENQUIRIES])
    open_ones = [one for one in found if one.state in UNANSWERED][:MOST_ENQUIRIES]
    return [f"{one.enquiry.number}, {one.enquiry.record_number}: {one.enquiry.said}" for one in open_ones]


def _notes(now: datetime) -> list[str]:
    return [
        f"{figures.clock(one.said_at)} {one.person.shown_name}: {one.text}"
        for one in reversed(notes_of_shift(now))
        if one.text and not hasattr(one, "struck_by")
    ]
