"""Readings along the way: one quantity at one time during a record, added and, where wrong, struck out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import datetime
from decimal import Decimal
from typing import Final

from django.db.models import QuerySet
from django.utils import timezone

from batches.hands import ALONE, Hands
from batches.models import Reading, Record, State
from batches.records import dependents
from batches.records import submit_once as sendings
from batches.records.asking import (
    Along,
    Before,
    During,
    Sure,
    Usually,
    ask_about_readings,
    ask_about_same_minute,
    ask_why_readings_late,
    is_unlikely,
)
from batches.records.submit_once import SentForm
from batches.running.figures import STRENGTH
from batches.running.runs import Reading as ReadingOfRun
from batches.running.runs import is_running
from batches.running.runs_on import runs_on
from batches.sheets.sheet import Field, Kind, Problem, Sheet
from batches.sheets.site import Site
from batches.sheets.typed.moments import Unreadable
from batches.sheets.typed.parsing import read, read_number
from batches.sheets.typed.read_sheet import Unfit
from batches.steps import sheet_of
from distillery.clock.reading import books_now
from distillery.database.retrying import retried
from distillery.people.models import Person
from distillery.people.roles import may_write
from ledger.posting.turns import turn

# Of fewer runs before it nothing that is read is called far from what is usual: common practice, no source.
FEWEST_TO_ASK_BY: Final = 6
_AT = Field(name="at", label="Read at", kind=Kind.MOMENT)


def add_reading(
    record: Record,
    at: datetime | str,
    quantity: str,
    value: str,
    person: Person,
    *,
    written_at: datetime | None = None,
    sure: Sure = False,
    hands: Hands = ALONE,
) -> Reading:
    """Adds one reading as typed. Raises Unfit where the step has no such quantity or the value cannot be, Asked."""
    return add_readings(record, [(at, quantity, value)], person, written_at=written_at, sure=sure, hands=hands)[0]


@retried
def add_readings(
    record: Record,
    rows: Sequence[tuple[datetime | str, str, str]],
    person: Person,
    *,
    written_at: datetime | None = None,
    sent: SentForm | None = None,
    now: datetime | None = None,
    sure: Sure = False,
    hands: Hands = ALONE,
) -> list[Reading]:
    """Adds readings of one record together, or none of them. Problems count the rows from 0.

    `sent` is the form they were written on; its writer is also asked where somebody else read the same at the same
    minute. `now` is what the books' clock says. `sure` names the questions that are answered, or says that all are;
    `hands` whose hands they went through besides. Raises Unfit, Asked, AlreadySaved, Busy.
    """
    if not may_write(person):
        raise Unfit([Problem("person", None, f"{person.shown_name} may read but not write; ask someone on shift.")])
    problems: list[Problem] = []
    readings = []
    with turn():
        written_at = written_at or timezone.now()
        now = now or books_now()
        sendings.refuse_again(sent)
        record = Record.objects.get(pk=record.pk)
        for index, (at, quantity, value) in enumerate(rows):
            moment, wrong = check_reading(record, at, quantity, value, now=now)
            problems += [replace(problem, row=index) for problem in wrong]
            if moment is not None and not wrong:
                readings.append(
                    Reading(
                        record=record,
                        at=moment,
                        quantity=quantity,
                        value=value.strip(),
                        written_at=written_at,
                        person=person,
                        **hands.columns(),
                    )
                )
        if problems:
            raise Unfit(problems)
        texts = [at if isinstance(at, str) else "" for at, _quantity, _value in rows]
        _ask(record, readings, now=now, sure=sure, texts=texts)
        if readings:
            latest = max(one.at for one in readings)
            ask_why_readings_late(_AT.name, _AT.label, latest, now=now, reason=hands.why_late)
        if sent is not None:
            ask_about_same_minute(record, readings, person, sure)
        sendings.remember(sent, record)
        return Reading.objects.bulk_create(readings)


def _ask(record: Record, readings: Sequence[Reading], *, now: datetime, sure: Sure, texts: Sequence[str] = ()) -> None:
    """Asks about what is unlikely in readings that are to be added; `texts` are their times as typed. Raises Asked."""
    sheet = sheet_of(record.kind)
    asked = {one.quantity for one in readings}
    there = [] if sure is True else list(standing_readings(record).filter(quantity__in=asked))
    rows = [
        Along(
            field,
            one.at,
            one.value,
            _before(one, field, [*there, *readings]),
            _usually(record, one, field, sure),
            text,
        )
        for one, text in zip(readings, texts or [""] * len(readings), strict=True)
        if (field := sheet.reading(one.quantity)) is not None
    ]
    ask_about_readings(_AT, rows, During(record.number, record.happened_from, record.happened_to), now=now, sure=sure)


def _ask_in_place_of(reading: Reading, value: str, *, now: datetime, sure: Sure) -> None:
    """Asks about a value that is put in place of another. Raises Asked."""
    put = Reading(record=reading.record, at=reading.at, quantity=reading.quantity, value=value.strip())
    _ask(reading.record, [put], now=now, sure=sure)


def standing_readings(record: Record) -> QuerySet[Reading]:
    """The readings of a record that nobody has struck, and those put in place of struck ones."""
    return Reading.objects.filter(record=record, struck_by=None).exclude(value="")


def unlikely_among(sheet: Sheet, readings: Sequence[Reading | ReadingOfRun]) -> frozenset[int]:
    """Keys of the readings of a record that are asked about before they are kept: beyond what is usual, or not going on
    from the last one that was not. What the last runs say is left out: they move on.
    """
    struck = {one.strikes_id for one in readings}
    standing = [one for one in readings if one.value and one.pk not in struck]
    odd: set[int] = set()
    usual: list[Reading | ReadingOfRun] = []
    for one in sorted(standing, key=lambda each: (each.at, each.pk)):
        field = sheet.reading(one.quantity)
        if field is not None and is_unlikely(Along(field, one.at, one.value, _before(one, field, usual))):
            odd.add(one.pk)
        else:
            usual.append(one)
    return frozenset(odd)


def _before(one: Reading | ReadingOfRun, field: Field, others: Iterable[Reading | ReadingOfRun]) -> Before | None:
    """The newest reading of the same quantity before a reading, where it can be read as a figure."""
    earlier = [other for other in others if other.quantity == one.quantity and other.at < one.at]
    if not earlier:
        return None
    last = max(earlier, key=lambda other: other.at)
    try:
        return Before(last.at, read_number(field, last.value))
    except Unreadable:
        return None


def _usually(record: Record, one: Reading, field: Field, sure: Sure) -> Usually | None:
    """Where the last runs of the same still stood at that time of theirs; None of what is no strength along a run that
    is on, and where too few of them were read before and after it.
    """
    if sure is True or field.unit != STRENGTH or not is_running(record):
        return None
    on = runs_on()
    run = on.run_of(record)
    if run is None or run.quantity is None or run.quantity.name != field.name:
        return None
    values = on.usual[record.pk].values_at((one.at - run.begun).total_seconds() / 3600)
    if len(values) < FEWEST_TO_ASK_BY:
        return None
    return Usually(Decimal(str(min(values))), Decimal(str(max(values))), len(values))


def check_reading(
    record: Record, at: datetime | str, quantity: str, value: str, *, now: datetime | None = None
) -> tuple[datetime | None, list[Problem]]:
    """The moment of a reading and what is wrong with it; `now` is what the word 'now' means."""
    problems: list[Problem] = []
    if record.state == State.VOID:
        problems.append(Problem("record", None, f"{record.number} is void; no reading can be added to it."))
    moment: datetime | None = None
    if isinstance(at, datetime):
        moment = at
    else:
        try:
            found = read(_AT, at, now=now).value
            moment = found if isinstance(found, datetime) else None
        except Unreadable as error:
            problems.append(Problem("at", None, str(error)))
    sheet = sheet_of(record.kind)
    field = sheet.reading(quantity)
    if field is None:
        known = ", ".join(one.name for one in sheet.readings) or "none"
        problems.append(
            Problem("quantity", None, f"Quantity is '{quantity}'; a {sheet.title.lower()} is read for: {known}.")
        )
        return moment, problems
    try:
        read(field, value)
    except Unreadable as error:
        problems.append(Problem("value", None, str(error), instead=error.instead))
    return moment, problems


@retried
def strike_reading(
    reading: Reading,
    *,
    person: Person,
    reason: str,
    value: str = "",
    written_at: datetime | None = None,
    sent: SentForm | None = None,
    now: datetime | None = None,
    sure: Sure = False,
    hands: Hands = ALONE,
) -> Reading:
    """Strikes a reading out, with another value in its place or none. Both stay to be read.

    What was compared with it in the books is posted anew. A reading that is only added later changes nothing there:
    what was declared was declared without it.
    `sent` is the form it was written on; `sure` and `now` as in `add_readings`. Raises Unfit, Asked, AlreadySaved,
    Busy.
    """
    if not may_write(person):
        raise Unfit([Problem("person", None, f"{person.shown_name} may read but not write; ask someone on shift.")])
    if not reason.strip():
        raise Unfit([Problem("reason", None, "Reason is blank; say why, it is kept beside both figures.")])
    with turn():
        sendings.refuse_again(sent)
        if Reading.objects.filter(strikes=reading).exists():
            raise Unfit([Problem("value", None, "This reading is struck already; strike what replaced it.")])
        if value.strip():
            _moment, problems = check_reading(reading.record, reading.at, reading.quantity, value)
            if problems:
                raise Unfit(problems)
            _ask_in_place_of(reading, value, now=now or books_now(), sure=sure)
        sendings.remember(sent, reading.record)
        written_at = written_at or timezone.now()
        affected = dependents.of_reading(reading.record, site=Site())
        struck = Reading.objects.create(
            record=reading.record,
            at=reading.at,
            quantity=reading.quantity,
            value=value.strip(),
            written_at=written_at,
            person=person,
            strikes=reading,
            reason=reason.strip(),
            **hands.columns(),
        )
        dependents.post_anew(affected, because=reading.record, person=person, reason=reason, written_at=written_at)
        return struck
