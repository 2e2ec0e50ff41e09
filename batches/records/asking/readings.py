"""What is asked before a reading along the way is written: about its time, and about a figure that is unlikely or does
not go on from the reading before it.

How fast a quantity may change from one reading to the next is not fixed anywhere. Two things are asked about, both
common practice, no source: a figure ten times or a tenth of what would go on from the reading before, and a rise of
what only falls while a run goes on (`Field.falls`), as a gravity does while a washback ferments.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Final

from batches.records.asking.figures import question_of
from batches.records.asking.questions import Question, Sure, Why, ask, with_unit
from batches.records.asking.times import question_about_reading_time
from batches.sheets.sheet import Field
from batches.sheets.typed.moments import Unreadable
from batches.sheets.typed.other_units import on_its_scale
from batches.sheets.typed.parsing import plain, read_number, unlikely
from distillery import figures

TEN: Final = Decimal(10)
# A figure this much nearer to the reading before, in proportion, was probably meant.
NEARER: Final = Decimal(3)


@dataclass(frozen=True, slots=True)
class Before:
    """The reading of the same quantity that stands before another: when, and what was read."""

    at: datetime
    value: Decimal


@dataclass(frozen=True, slots=True)
class Along:
    """One reading that is to be written, as it was typed, with the one before it."""

    field: Field
    at: datetime
    typed: str
    before: Before | None = None


@dataclass(frozen=True, slots=True)
class During:
    """The record that is read along the way: its number, when it began, when it ended or None."""

    number: str
    begins: datetime
    ends: datetime | None


def ask_about_readings(time: Field, rows: Sequence[Along], during: During, *, now: datetime, sure: Sure) -> None:
    """Asks about the times and figures of readings. `time` is the box of the time, `now` the books' clock.

    Raises Asked with the questions that `sure` does not answer.
    """
    found = [
        question
        for at in sorted({one.at for one in rows})
        if (question := question_about_reading_time(time, at, during.begins, during.ends, named=during.number, now=now))
    ]
    for one in rows:
        found += _about(one)
    ask(found, sure)


def _about(one: Along) -> Iterator[Question]:
    try:
        value = read_number(one.field, one.typed)
    except Unreadable:
        return  # refused elsewhere, with its sentence
    noted = unlikely(on_its_scale(one.field, one.typed), value, one.typed)
    if noted:
        yield question_of(one.field, noted[0], one.typed)
        return
    if one.before is not None:
        yield from _course(one, value, one.before)


def _course(one: Along, value: Decimal, before: Before) -> Iterator[Question]:
    stood = f"{plain(before.value)} at {figures.clock(before.at)[:5]}"
    label = one.field.label
    meant = next((other for other in (value * TEN, value / TEN) if _much_nearer(other, value, before.value)), None)
    if meant is not None:
        said = plain(meant.normalize())
        yield _question(one, f"{label}: did you mean {said}? You typed {one.typed}; it was {stood}.", said)
    elif one.field.falls and value - before.value >= _step(one.field):
        yield _question(one, f"{label} is {one.typed}, higher than {stood}. It falls as a rule: is the sample right?")


def _much_nearer(other: Decimal, value: Decimal, before: Decimal) -> bool:
    """True where another figure lies much nearer, in proportion, to the reading before than the one that was typed."""
    if min(other, value, before) <= 0:
        return False
    apart, typed_apart = abs((other / before).ln()), abs((value / before).ln())
    return apart * NEARER < typed_apart and typed_apart > TEN.ln() / 2


def _step(field: Field) -> Decimal:
    """Ten of the smallest steps a quantity is read in: two readings of one thing may differ by less. Of a gravity that
    is a degree, about two standard uncertainties of a difference of two saccharometer readings (0.0003 to 0.0005 each).
    """
    return 10 * TEN**-field.decimals


def _question(one: Along, sentence: str, instead: str = "") -> Question:
    keep = f"Keep {with_unit(one.field, one.typed)}"
    meant = f"It was {with_unit(one.field, instead)}" if instead else ""
    return Question(one.field.name, Why.COURSE, sentence, one.typed, keep, instead, meant, sentence)
