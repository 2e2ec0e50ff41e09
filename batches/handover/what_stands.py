"""What stands as a shift ends, filled in by the program: records that go on, what waits, what is to be looked into."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Final

from batches.handover.noting import notes_of_shift
from batches.models import Record, State
from batches.running.runs import Run, all_running, running_kinds
from batches.sheets.register import sheet_of
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
    for run in all_running():
        said = f"{run.spans[-1].state.lower()} {_since(run.in_state_since, now)}"
        yield f"{run.sheet.title} {run.record.number}{f' in {run.vessel}' if run.vessel else ''}, {said}, {_read(run)}"
    others = Record.objects.filter(state=State.OPEN).exclude(kind__in=running_kinds())
    for record in others.order_by("happened_from", "pk"):
        yield f"{sheet_of(record.kind).title} {record.number}, open {_since(record.happened_from, now)}"


def _since(moment: datetime, now: datetime) -> str:
    """'1 h 12 min, since Wed 02:02'; what lies ahead says when."""
    if moment > now:
        return f"from {figures.moment(moment)}"
    return f"{figures.span(now - moment)}, since {figures.moment(moment)}"


def _read(run: Run) -> str:
    """What was read last of the quantity above all."""
    field = run.quantity
    last = run.standing(field.name)[-1:] if field is not None else []
    if field is None or not last:
        return "no reading yet"
    unit = "" if field.unit == "relative density" else f" {field.unit}"
    return f"{field.label.lower()} {last[0].value}{unit} at {figures.moment(last[0].at)}"


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
