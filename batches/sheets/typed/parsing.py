"""From what was typed to a value, in one place: comma or point, a typed unit (the field's own or another that is
known), spaces, a time without its day.

Only what cannot be, or cannot be understood, is refused; the sentence names the field, what was typed and the limit.
What is merely unlikely is kept and noted. Where ten times more or less would be usual, the note offers that figure.
Times are read on the site's clock; an hour that the clocks leave out when they go forward is taken as the moment of the
change, an hour that comes twice as the first of the two, and both are noted.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

from django.conf import settings

from batches.sheets.declared import Field, Kind, Note
from batches.sheets.typed.other_units import (
    METRIC,
    SCALES,
    NotTurnedOver,
    Turned,
    on_its_scale,
    says_other_unit,
    turned_over,
)
from distillery import figures
from distillery.clock.reading import is_ahead
from distillery.typed import LONGEST_FIGURE, UNITS, gravity_of, parted, plain_unit
from distillery.typed import readings as readings_of
from distillery.years import is_of_a_site

GRAVITY_UNIT = "relative density"
TEN = Decimal(10)
THOUSAND = Decimal(1000)

_POINT_BEFORE_THREE = re.compile(r"[1-9][0-9]{0,2}\.[0-9]{3}(?![0-9.,])")
_ISO = re.compile(
    r"([0-9]{4})-([0-9]{1,2})-([0-9]{1,2})[T ]+([0-9]{1,2})[:.]?([0-9]{2})(?::([0-9]{2})(?:\.[0-9]+)?)?"
    r"\s*(Z|[+\-][0-9]{2}:?[0-9]{2})?"
)
_DAY_FIRST = re.compile(r"([0-9]{1,2})[/. ]([0-9]{1,2}|[A-Za-z]{3,9})[/. ]([0-9]{4})[T, ]+([0-9]{1,2})[:.]?([0-9]{2})")
_CLOCK = re.compile(r"([0-9]{1,2})[:.]([0-9]{2})|([0-9]{2})([0-9]{2})")
NOW = "now"
# Written in a box whose reading nobody took. Only what ends a record may be missing (`read_sheet`).
MISSING = "missing"


class Unreadable(ValueError):
    """What was typed cannot be, or cannot be understood; `str()` is the sentence."""


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
        meant = _other_unit(field, readings[0]) or _ten_times(field, readings[0])
        asked = f" Did you mean {meant}?" if meant else ""
        raise Unreadable(f"{field.label} is {typed}; {_limit(field, readings[0])}.{asked}")
    if len(possible) > 1:
        small, large = sorted(possible, key=abs)
        if field.kind == Kind.WHOLE:
            small, large = small.to_integral_value(), large.to_integral_value()
        either = f"{field.label}: '{typed}' can mean {plain(large)} or {plain(small)}{_unit(field)}; "
        if field.kind == Kind.WHOLE:
            raise Unreadable(f"{either}write {plain(large)}, or {plain(small)}.")
        raise Unreadable(f"{either}write {plain(large)}, or {plain(small)} with a point.")
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


def read_moment(
    field: Field, typed: str, *, day: date | None = None, now: datetime | None = None
) -> tuple[datetime, str]:
    """A time with its zone, and a remark where the clocks changed. Raises Unreadable."""
    zone = ZoneInfo(settings.TIME_ZONE)
    if is_now(typed):
        if now is None:
            raise Unreadable(f"{field.label}: 'now' says no time here; write it as 2027-03-04 02:10.")
        return now.astimezone(UTC).replace(second=0, microsecond=0), ""
    try:
        bare = _CLOCK.fullmatch(typed)
        if bare is not None:
            hour, minute = (bare[1], bare[2]) if bare[1] else (bare[3], bare[4])
            if day is None:
                raise Unreadable(f"{field.label}: {typed} has no day; write the day too, such as 2027-03-04 02:10.")
            clock = time(int(hour), int(minute))
            moment, remark = on_the_clock(datetime.combine(day, clock), zone)
            if now is not None and is_ahead(moment, now) and day == now.astimezone(zone).date():
                moment, remark = on_the_clock(datetime.combine(day - timedelta(days=1), clock), zone)
                remark = remark or f"{typed} is still to come today, so it was taken as {figures.moment(moment)}."
            return moment, remark
        iso = _ISO.fullmatch(typed)
        if iso is not None:
            naive = datetime(_year(iso[1]), int(iso[2]), int(iso[3]), int(iso[4]), int(iso[5]), int(iso[6] or 0))
            if iso[7]:
                return _with_offset(naive, iso[7]), ""
            return on_the_clock(naive, zone)
        written = _DAY_FIRST.fullmatch(typed)
        if written is not None:
            naive = datetime(_year(written[3]), _month(written[2]), int(written[1]), int(written[4]), int(written[5]))
            return on_the_clock(naive, zone)
    except (ValueError, OverflowError) as error:
        if isinstance(error, Unreadable):
            raise
        raise Unreadable(f"{field.label}: there is no such day or time as {typed}.") from error
    raise Unreadable(f"{field.label}: '{typed}' is not a time; write it as 02:10 or 2027-03-04 02:10.")


def on_the_clock(naive: datetime, zone: ZoneInfo) -> tuple[datetime, str]:
    """A time of the site's clock in UTC, with a remark where the clocks changed that night.

    In UTC, because a local time in the hour that comes twice equals no time of another zone, not even itself.
    """
    early, late = naive.replace(tzinfo=zone, fold=0), naive.replace(tzinfo=zone, fold=1)
    if early.utcoffset() == late.utcoffset():
        return early.astimezone(UTC), ""
    if early.utcoffset() < late.utcoffset():  # type: ignore[operator]
        return _moment_of_change(late, early), (
            f"There was no {naive:%H:%M} that night, the clocks went forward; it is taken as the moment they did."
        )
    return (
        early.astimezone(UTC),
        f"{naive:%H:%M} came twice that night, the clocks went back; it is taken as the first of the two.",
    )


def is_bare_time(typed: str) -> bool:
    """True for a time without its day, such as 02:10."""
    return _CLOCK.fullmatch(typed.strip()) is not None


def is_now(typed: str) -> bool:
    """True for the word 'now', which means the moment of saving."""
    return typed.strip().casefold() == NOW


def is_missing(typed: str) -> bool:
    """True for the word that says that nobody took this reading."""
    return typed.strip().casefold() == MISSING


def says_its_offset(typed: str) -> bool:
    """True for a time written with how far its clock stood from UTC, such as 2027-10-31 01:20+01:00."""
    iso = _ISO.fullmatch(typed.strip())
    return iso is not None and iso[7] is not None


def second_of_two(moment: datetime) -> datetime | None:
    """The later of the two moments that a clock shows alike when it is put back, given the earlier; else None."""
    local = moment.astimezone(ZoneInfo(settings.TIME_ZONE))
    second = local.replace(fold=1).astimezone(UTC)
    return second if local.fold == 0 and second > moment else None


def dated(moment: datetime) -> str:
    """A moment as text that says its day, and its offset in the hour that comes twice."""
    local = moment.astimezone(ZoneInfo(settings.TIME_ZONE))
    changes = local.utcoffset() != local.replace(fold=1 - local.fold).utcoffset()
    return local.isoformat(timespec="minutes") if changes else local.strftime("%Y-%m-%dT%H:%M")


def plain(value: Decimal | int) -> str:
    """A figure as digits with a point and nothing between them."""
    return f"{Decimal(value):f}"


def _moment_of_change(before: datetime, after: datetime) -> datetime:
    """The change between the two readings of a missing hour, to the whole minute, by halving the way."""
    zone, low, high = before.tzinfo, before.astimezone(UTC), after.astimezone(UTC)
    offset = low.astimezone(zone).utcoffset()
    while high - low > timedelta(seconds=1):
        middle = low + (high - low) / 2
        if middle.astimezone(zone).utcoffset() == offset:
            low = middle
        else:
            high = middle
    return (high + timedelta(seconds=30)).replace(second=0, microsecond=0)


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


def _other_unit(field: Field, value: Decimal) -> str:
    """A figure that cannot be in the field's own unit, in another that would make it usual: 0.7 in cl is 0.7 L."""
    for unit, factor in METRIC.get(field.unit, {}).items():
        other = value * factor
        if _is_usual(field, other) and _limit(field, other) is None:
            return f"{plain(value)} {unit}, which is {plain(other.normalize())} {field.unit}"
    return ""


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


def _year(written: str) -> int:
    year = int(written)
    if not is_of_a_site(year):
        raise ValueError(f"{year} is not a year of this site")
    return year


def _month(written: str) -> int:
    if written.isdigit():
        return int(written)
    return [month.lower() for month in figures.MONTHS].index(written[:3].lower()) + 1


def _with_offset(naive: datetime, offset: str) -> datetime:
    ending = "+00:00" if offset == "Z" else offset if ":" in offset else f"{offset[:3]}:{offset[3:]}"
    return datetime.fromisoformat(f"{naive.isoformat()}{ending}").astimezone(UTC)
