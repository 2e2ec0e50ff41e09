"""What is asked before a reading along the way is written: about its time, and about a figure that is unlikely or does
not go on from the reading before it.

How fast a quantity may change from one reading to the next is not fixed anywhere. Three things are asked about, all
common practice, no source: a figure ten times or a tenth of what would go on from the reading before; a rise of what
only falls while a run goes on (`Field.falls`), as a gravity does while a washback ferments; and a strength far from
where the last runs of the same still stood by then, as two digits changed about make it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from itertools import pairwise
from typing import Final

from batches.records.asking.figures import question_of
from batches.records.asking.questions import Question, Sure, Why, ask, with_unit
from batches.records.asking.times import question_about_reading_time
from batches.sheets.sheet import Field
from batches.sheets.typed.moments import Unreadable
from batches.sheets.typed.other_units import on_its_scale
from batches.sheets.typed.parsing import plain, read_number, unlikely
from distillery import figures

_PLAIN: Final = re.compile(r"[0-9]{1,3}(\.[0-9]{1,2})?")
TEN: Final = Decimal(10)
# A figure this much nearer to the reading before, in proportion, was probably meant.
NEARER: Final = Decimal(3)
# In % vol. A still that is fired harder or softer is some per cent before or behind the last runs.
LEAST_FAR: Final = Decimal(5)


@dataclass(frozen=True, slots=True)
class Before:
    """The reading of the same quantity that stands before another: when, and what was read."""

    at: datetime
    value: Decimal


@dataclass(frozen=True, slots=True)
class Usually:
    """From where to where the last runs stood at that time of theirs, in the field's own unit, and how many of them."""

    low: Decimal
    high: Decimal
    runs: int

    def is_far(self, value: Decimal) -> bool:
        """True where a figure is further off than they lie apart three times over, and than `LEAST_FAR`."""
        return max(self.low - value, value - self.high) > max(LEAST_FAR, 3 * (self.high - self.low))


@dataclass(frozen=True, slots=True)
class Along:
    """One reading that is to be written, as it and its time were typed, with the one before it and what is usual by
    then."""

    field: Field
    at: datetime
    typed: str
    before: Before | None = None
    usually: Usually | None = None
    at_typed: str = ""


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
    found = []
    for at, typed in sorted({one.at: one.at_typed for one in rows}.items()):
        begins, ends, named = during.begins, during.ends, during.number
        question = question_about_reading_time(time, at, begins, ends, named=named, now=now, typed=typed)
        if question is not None:
            found.append(question)
    for one in rows:
        found += _about(one)
    ask(found, sure)


def is_unlikely(one: Along) -> bool:
    """True for a reading that is asked about before it is kept, and that stands with a mark once it was."""
    return next(_about(one), None) is not None


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
    elif one.usually is not None:
        yield from _far(one, value, one.usually)


def _course(one: Along, value: Decimal, before: Before) -> Iterator[Question]:
    stood = f"{plain(before.value)} at {figures.clock(before.at)[:5]}"
    label = one.field.label
    meant = next((other for other in (value * TEN, value / TEN) if _much_nearer(other, value, before.value)), None)
    if meant is not None:
        said = plain(meant.normalize())
        yield _question(one, f"{label}: did you mean {said}? You typed {one.typed}; it was {stood}.", said)
    elif one.field.falls and value - before.value >= _step(one.field):
        yield _question(one, f"{label} is {one.typed}, higher than {stood}. It falls as a rule: is the sample right?")
    elif one.usually is not None:
        yield from _far(one, value, one.usually)


def _far(one: Along, value: Decimal, usually: Usually) -> Iterator[Question]:
    if not usually.is_far(value):
        return
    low, high = plain(round(usually.low, one.field.decimals)), plain(round(usually.high, one.field.decimals))
    meant = next((other for other in _changed_about(one.typed) if not usually.is_far(Decimal(other))), "")
    asked = f"did you mean {meant}? You typed {one.typed}" if meant else f"{one.typed} is far from what is usual"
    stood = f"the last {usually.runs} stood at {low} to {high} by then"
    yield _question(one, f"{one.field.label}: {asked}; {stood}.", meant)


def _changed_about(typed: str) -> Iterator[str]:
    """A plain figure with two neighbouring digits changed about."""
    if not _PLAIN.fullmatch(typed):
        return
    places = [place for place, sign in enumerate(typed) if sign.isdigit()]
    for first, second in pairwise(places):
        signs = [*typed]
        signs[first], signs[second] = signs[second], signs[first]
        yield "".join(signs)


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
