"""Readings along the way: one quantity at one time during a record, added and, where wrong, struck out."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.utils import timezone

from batches.models import Reading, Record, State
from batches.records import dependents
from batches.records import submit_once as sendings
from batches.records.asking import Question, Sure, Why, ask_about_reading, settle_questions
from batches.records.submit_once import SentForm
from batches.sheets.parsing import Unreadable, read
from batches.sheets.read_sheet import Unfit
from batches.sheets.sheet import Field, Kind, Problem
from batches.sheets.site import Site
from batches.steps import sheet_of
from distillery import figures
from distillery.clock.reading import books_now
from distillery.people.models import Person
from distillery.people.roles import may_write
from distillery.retrying import retried
from ledger.posting.turns import turn

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
) -> Reading:
    """Adds one reading as typed. Raises Unfit where the step has no such quantity or the value cannot be, Asked."""
    return add_readings(record, [(at, quantity, value)], person, written_at=written_at, sure=sure)[0]


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
) -> list[Reading]:
    """Adds readings of one record together, or none of them. Problems count the rows from 0.

    `sent` is the form they were written on; its writer is also asked where somebody else read the same at the same
    minute. `now` is what the books' clock says. `sure` names the questions that are answered, or says that all are. Raises Unfit, Asked, AlreadySaved, Busy.
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
            problems += [Problem(problem.field, index, problem.sentence) for problem in wrong]
            if moment is not None and not wrong:
                readings.append(
                    Reading(
                        record=record,
                        at=moment,
                        quantity=quantity,
                        value=value.strip(),
                        written_at=written_at,
                        person=person,
                    )
                )
        if problems:
            raise Unfit(problems)
        for moment in sorted({reading.at for reading in readings}):
            ask_about_reading(
                _AT, moment, record.happened_from, record.happened_to, named=record.number, now=now, sure=sure
            )
        if sent is not None:
            _ask_about_same_minute(record, readings, person, sure)
        sendings.remember(sent, record)
        return Reading.objects.bulk_create(readings)


def _ask_about_same_minute(record: Record, new: Sequence[Reading], person: Person, sure: Sure) -> None:
    """Whoever saves second sees both figures first. Both may stand, since two people can read two figures."""
    others = (
        Reading.objects.filter(record=record, at__in={one.at for one in new}, struck_by__isnull=True)
        .exclude(value="")
        .exclude(person=person)
        .select_related("person")
        .order_by("written_at", "pk")
    )
    standing = {(one.at, one.quantity): one for one in others}
    labels = {one.name: one.label for one in sheet_of(record.kind).readings}
    settle_questions(
        [
            Question(
                field=one.quantity,
                why=Why.SAME_MINUTE,
                sentence=f"{labels[one.quantity]} at {figures.moment(one.at)}: {other.person.shown_name} wrote "
                f"{other.value} at {figures.clock(other.written_at)}, and you wrote {one.value}. Nothing of yours is "
                "saved yet.",
                moment=one.at,
                keep="Keep both",
            )
            for one in new
            if (other := standing.get((one.at, one.quantity))) is not None
        ],
        sure,
    )


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
        problems.append(Problem("value", None, str(error)))
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
) -> Reading:
    """Strikes a reading out, with another value in its place or none. Both stay to be read.

    What was compared with it in the books is posted anew. A reading that is only added later changes nothing there:
    what was declared was declared without it.
    `sent` is the form it was written on. Raises Unfit, AlreadySaved, Busy.
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
        )
        dependents.post_anew(affected, because=reading.record, person=person, reason=reason, written_at=written_at)
        return struck
