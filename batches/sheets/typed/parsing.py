"""From what was typed to a value, in one place: comma or point, a typed unit (the field's own or another that is
known), spaces, a time without its day.

Only what cannot be, or cannot be understood, is refused; the sentence names the field, what was typed and the limit.
What is merely unlikely is kept and noted. Where ten times more or less would be usual, the note offers that figure.
Times are read by `moments`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from batches.sheets.declared import Field, Kind, Note
from batches.sheets.typed.moments import Unreadable, read_moment
from batches.sheets.typed.other_units import (
    METRIC,
    SCALES,
    NotTurnedOver,
    Turned,
    on_its_scale,
    says_other_unit,
    turned_over,
)
from distillery.typed.meaning import LONGEST_FIGURE, UNITS, gravity_of, parted, plain_unit
from distillery.typed.meaning import readings as readings_of

GRAVITY_UNIT = "relative density"
TEN = Decimal(10)
THOUSAND = Decimal(1000)

_POINT_BEFORE_THREE = re.compile(r"[1-9][0-9]{0,2}\.[0-9]{3}(?![0-9.,])")
# Written in a box whose reading nobody took. Only what ends a record may be missing (`read_sheet`).
MISSING = "missing"


@dataclass(frozen=True, slots=True)
class Read:
    """A value that was understood, and what is unlikely about it."""

    value: Decimal | int | datetime | str
    notes: tuple[Note, ...] = ()


def read(field: Field, typed: str, *, day: date | None = None, now: datetime | None = None) -> Read:
    """The value of what was typed in a field that needs no look at the site's plant or records.

    `day` is the day a bare time belongs to. `now` is what the word 'now' means, to the minute; a bare time of today
    more than five minutes ahead of it is yesterday's. Vessels and records come back as the text that names them.
    Raises Unreadable.
    """
    shown = typed.strip()
    if field.kind in (Kind.NUMBER, Kind.WHOLE):
        number = read_number(field, shown)
        value: Decimal | int = int(number) if field.kind == Kind.WHOLE else number
        noted = (*unlikely(on_its_scale(field, shown), number, shown), *too_fine(field, number, shown))
        return Read(value, noted)
    if field.kind == Kind.MOMENT:
        moment, remark = read_moment(field, shown, day=day, now=now)
        return Read(moment, (Note(field.name, None, remark),) if remark else ())
    if field.kind == Kind.CHOICE:
        return Read(_choice(field, shown))
    if len(shown) > field.longest:
        raise Unreadable(f"{field.label} is {len(shown)} characters long; at most {field.longest} are kept.")
    return Read(shown)


def read_number(field: Field, typed: str) -> Decimal:
    """The figure of a field, within what can be. Raises Unreadable."""
    if len(typed) > LONGEST_FIGURE:
        raise Unreadable(f"{field.label} is {len(typed)} characters long; a figure has at most {LONGEST_FIGURE}.")
    field = on_its_scale(field, typed)
    found = parted(typed)
    if found is None:
        raise Unreadable(f"{field.label}: '{typed}' is not a figure; write digits, such as {_example(field)}.")
    below_zero, digits, tail = found
    over = _turned_over(field, typed, tail)
    try:
        readings = [over(-value if below_zero else value) for value in readings_of(digits)]
    except NotTurnedOver as error:
        raise Unreadable(str(error)) from error
    if field.unit == GRAVITY_UNIT:
        taken = [gravity_of(value, plain_unit(tail)) for value in readings]
        readings = sorted({value for value in taken if value is not None}) or readings
    if field.kind == Kind.WHOLE:
        # In a whole number a comma before three digits can only part thousands; a point may also be a sheet's '.000'.
        if _POINT_BEFORE_THREE.fullmatch(digits):
            readings = [*readings, *(value * THOUSAND for value in readings)]
        else:
            readings = readings[-1:]
        readings = [value for value in readings if value == value.to_integral_value()]
        if not readings:
            raise Unreadable(f"{field.label} is {typed}; it is a whole number.")
    if not readings:
        raise Unreadable(f"{field.label}: '{typed}' is not a figure; write digits, such as {_example(field)}.")
    possible = [value for value in readings if _limit(field, value) is None]
    if not possible:
        other, ten_times = _other_unit(field, readings[0]), _ten_times(field, readings[0])
        meant = f"{plain(readings[0])} {other[0]}, which is {other[1]} {field.unit}" if other else ten_times
        asked = f" Did you mean {meant}?" if meant else ""
        instead = other[1] if other else ten_times
        sentence = f"{field.label} is {typed}; {_limit(field, readings[0])}.{asked}"
        raise Unreadable(sentence, (instead,) if instead else ())
    if len(possible) > 1:
        small, large = sorted(possible, key=abs)
        if field.kind == Kind.WHOLE:
            small, large = small.to_integral_value(), large.to_integral_value()
        either = f"{field.label}: '{typed}' can mean {plain(large)} or {plain(small)}{_unit(field)}; "
        if field.kind == Kind.WHOLE:
            raise Unreadable(f"{either}write {plain(large)}, or {plain(small)}.", (plain(large), plain(small)))
        sentence = f"{either}write {plain(large)}, or {plain(small)} with a point."
        raise Unreadable(sentence, (plain(large), plain(small)))
    return possible[0]


def too_fine(field: Field, value: Decimal, typed: str) -> tuple[Note, ...]:
    """A note where a figure has more decimals than a rule allows, or where its point may have stood between
    thousands."""
    if says_other_unit(field, typed):
        return ()
    if field.most_decimals is not None and value != round(value, field.most_decimals):
        most = "one decimal" if field.most_decimals == 1 else f"{field.most_decimals} decimals"
        return (Note(field.name, None, f"{field.label} is {typed}; at most {most} is the rule: check the label."),)
    thousands = value * THOUSAND
    if (
        field.kind == Kind.NUMBER
        and field.decimals < len("000")
        and _POINT_BEFORE_THREE.match(typed)
        and _limit(field, thousands) is None
        and (_is_usual(field, thousands) or not _is_usual(field, value))
    ):
        meant = plain(thousands.to_integral_value())
        said = f"{field.label}: {typed} was taken as {plain(value.normalize())}. Did you mean {meant}?"
        return (Note(field.name, None, said, instead=meant),)
    return ()


def unlikely(field: Field, value: Decimal, typed: str) -> tuple[Note, ...]:
    """A note where a figure lies outside what is usual, asking for ten times more or less where that would be."""
    if _is_usual(field, value):
        return ()
    meant = _ten_times(field, value)
    if meant:
        return (Note(field.name, None, f"Did you mean {meant}? You typed {typed}.", instead=meant),)
    return (Note(field.name, None, f"{field.label} is {typed}; unlikely: {_usual(field)}."),)


def is_missing(typed: str) -> bool:
    """True for the word that says that nobody took this reading."""
    return typed.strip().casefold() == MISSING


def plain(value: Decimal | int) -> str:
    """A figure as digits with a point and nothing between them."""
    return f"{Decimal(value):f}"


def _turned_over(field: Field, typed: str, tail: str) -> Turned:
    """The way from the unit as typed to the field's own. Raises Unreadable for a unit that does not belong there."""
    written = plain_unit(tail)
    way = turned_over(field, written)
    if way is not None:
        return way
    known = (field.unit.lower(), *UNITS.get(field.unit, ()), *SCALES.get(field.unit, ((),))[0])
    if written and written not in known:
        wanted = f"is in {field.unit}" if field.unit else "is a bare number"
        raise Unreadable(f"{field.label} {wanted}; '{typed}' ends in '{tail.strip()}'.")
    return lambda figure: figure


def _limit(field: Field, value: Decimal) -> str | None:
    if field.impossible_below is not None and value < field.impossible_below:
        return f"it cannot be below {plain(field.impossible_below)}{_unit(field)}"
    if field.impossible_above is not None and value > field.impossible_above:
        return f"it cannot be above {plain(field.impossible_above)}{_unit(field)}"
    return None


def _is_usual(field: Field, value: Decimal) -> bool:
    return not (
        (field.usual_low is not None and value < field.usual_low)
        or (field.usual_high is not None and value > field.usual_high)
    )


def _ten_times(field: Field, value: Decimal) -> str:
    if field.usual_low is None and field.usual_high is None:
        return ""
    for other in (value * TEN, value / TEN):
        if value and _is_usual(field, other) and _limit(field, other) is None:
            return plain(other.normalize())
    return ""


def _other_unit(field: Field, value: Decimal) -> tuple[str, str] | None:
    """Of a figure that cannot be in the field's own unit, the unit that would make it usual and what it comes to in the
    field's own: 0.7 in cl is 0.7 L."""
    for unit, factor in METRIC.get(field.unit, {}).items():
        other = value * factor
        if _is_usual(field, other) and _limit(field, other) is None:
            return unit, plain(other.normalize())
    return None


def _usual(field: Field) -> str:
    if field.usual_low is None or field.usual_high is None:
        edge = field.usual_low if field.usual_high is None else field.usual_high
        side = "from" if field.usual_high is None else "up to"
        return f"usual {side} {plain(edge or Decimal(0))}{_unit(field)}"
    return f"usual {plain(field.usual_low)} to {plain(field.usual_high)}{_unit(field)}"


def _unit(field: Field) -> str:
    return f" {field.unit}" if field.unit and field.unit != "relative density" else ""


def _example(field: Field) -> str:
    usual = field.usual_low if field.usual_low is not None else Decimal("12")
    return plain(usual) if field.kind == Kind.WHOLE or not field.decimals else plain(usual.quantize(Decimal("0.1")))


def _choice(field: Field, typed: str) -> str:
    for choice in field.choices:
        if typed.casefold() == choice.casefold():
            return choice
    raise Unreadable(f"{field.label} is '{typed}'; it is one of: {', '.join(field.choices)}.")
