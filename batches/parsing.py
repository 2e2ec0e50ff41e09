"""From what was typed to a value, in one place: comma or point, a typed unit (the field's own or another that is
known), spaces, a time without its day.

Refused is only what cannot be or cannot be understood; the sentence names the field, what was typed and the
limit. What is merely unlikely is kept and noted, with the figure ten times larger or smaller where that one
would be usual. Times are read on the site's clock; an hour that the clocks leave out when they go forward is
taken as the moment of the change, an hour that comes twice as the first of the two, and both are noted.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal, InvalidOperation
from zoneinfo import ZoneInfo

from django.conf import settings

from batches.other_units import SCALES, NotTurnedOver, Turned, on_its_scale, plain_unit, turned_over
from batches.sheet import Field, Kind, Note
from distillery import figures
from distillery.years import is_of_a_site

LONGEST_FIGURE = 40
TEN = Decimal(10)
AHEAD = timedelta(minutes=5)

# How people write the units, in small letters and without full stops; the first is the unit itself.
UNITS: dict[str, tuple[str, ...]] = {
    "L": ("l", "litre", "litres", "ltr", "ltrs"),
    "mL": ("ml", "millilitre", "millilitres"),
    "cl": ("cl", "centilitre", "centilitres"),
    "mm": ("mm", "millimetre", "millimetres"),
    "kg": ("kg", "kgs", "kilo", "kilos", "kilogram", "kilograms"),
    "°C": ("°c", "c", "° c", "deg c", "degc", "celsius", "°", "deg"),
    "% vol": ("% vol", "%", "%vol", "percent", "per cent", "vol", "abv", "% abv"),
    "%": ("%", "percent", "per cent"),
    "h": ("h", "hr", "hrs", "hour", "hours"),
    "relative density": ("sg", "rd"),
    "LPA/t": ("lpa/t", "lpa per tonne", "l/t"),
}

_NUMBER = re.compile(r"([+\-\u2212]?)((?:[0-9][0-9 \u00a0\u202f,.']*)|(?:[.,][0-9]+))(.*)", re.DOTALL)
_PARTED_BY_SPACES = re.compile(r"[0-9]{1,3}(?:[ \u00a0\u202f'][0-9]{3})+(?:[.,][0-9]+)?")
_ISO = re.compile(
    r"([0-9]{4})-([0-9]{1,2})-([0-9]{1,2})[T ]+([0-9]{1,2})[:.]?([0-9]{2})(?::([0-9]{2})(?:\.[0-9]+)?)?"
    r"\s*(Z|[+\-][0-9]{2}:?[0-9]{2})?"
)
_DAY_FIRST = re.compile(
    r"([0-9]{1,2})[/. ]([0-9]{1,2}|[A-Za-z]{3,9})[/. ]([0-9]{4})[T, ]+([0-9]{1,2})[:.]?([0-9]{2})"
)
_CLOCK = re.compile(r"([0-9]{1,2})[:.]([0-9]{2})|([0-9]{2})([0-9]{2})")


class Unreadable(ValueError):
    """What was typed cannot be, or cannot be understood; `str()` is the sentence."""


@dataclass(frozen=True, slots=True)
class Read:
    """A value that was understood, and what is unlikely about it."""

    value: Decimal | int | datetime | str
    notes: tuple[Note, ...] = ()


def read(field: Field, typed: str, *, day: date | None = None, now: datetime | None = None) -> Read:
    """The value of what was typed in a field that needs no look at the site's plant or records.

    `day` is the day a bare time belongs to; with `now`, a bare time more than five minutes ahead of it is
    yesterday's. Vessels and records come back as the text that names them. Raises Unreadable.
    """
    shown = typed.strip()
    if field.kind in (Kind.NUMBER, Kind.WHOLE):
        number = read_number(field, shown)
        value: Decimal | int = int(number) if field.kind == Kind.WHOLE else number
        return Read(value, unlikely(on_its_scale(field, shown), number, shown))
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
    match = _NUMBER.fullmatch(typed)
    if match is None:
        raise Unreadable(f"{field.label}: '{typed}' is not a figure; write digits, such as {_example(field)}.")
    sign, digits, tail = match.groups()
    over = _turned_over(field, typed, tail)
    try:
        readings = [over(-value if sign in ("-", "\u2212") else value) for value in _readings(digits.strip())]
    except NotTurnedOver as error:
        raise Unreadable(str(error)) from error
    if field.kind == Kind.WHOLE:
        # In a whole number a comma before three digits can only part thousands.
        readings = [value for value in readings[-1:] if value == value.to_integral_value()]
        if not readings:
            raise Unreadable(f"{field.label} is {typed}; it is a whole number.")
    if not readings:
        raise Unreadable(f"{field.label}: '{typed}' is not a figure; write digits, such as {_example(field)}.")
    possible = [value for value in readings if _limit(field, value) is None]
    if not possible:
        meant = _ten_times(field, readings[0])
        asked = f" Did you mean {meant}?" if meant else ""
        raise Unreadable(f"{field.label} is {typed}; {_limit(field, readings[0])}.{asked}")
    if len(possible) > 1:
        small, large = sorted(possible, key=abs)
        raise Unreadable(
            f"{field.label}: '{typed}' can mean {plain(large)} or {plain(small)} {field.unit}; "
            f"write {plain(large)}, or {plain(small)} with a point."
        )
    return possible[0]


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
    try:
        bare = _CLOCK.fullmatch(typed)
        if bare is not None:
            hour, minute = (bare[1], bare[2]) if bare[1] else (bare[3], bare[4])
            if day is None:
                raise Unreadable(f"{field.label}: {typed} has no day; write the day too, such as 2027-03-04 02:10.")
            clock = time(int(hour), int(minute))
            moment, remark = on_the_clock(datetime.combine(day, clock), zone)
            if now is not None and moment > now + AHEAD and day == now.astimezone(zone).date():
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
            naive = datetime(
                _year(written[3]), _month(written[2]), int(written[1]), int(written[4]), int(written[5])
            )
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


def dated(moment: datetime) -> str:
    """A moment as text that says its day, and its offset in a night on which the clocks change."""
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


def _readings(digits: str) -> list[Decimal]:
    """What a run of digits and marks can mean: one figure, two where a single comma parts three digits, or none."""
    if _PARTED_BY_SPACES.fullmatch(digits):
        digits = re.sub(r"[ \u00a0\u202f']", "", digits)
    if re.search(r"[ \u00a0\u202f']", digits):
        return []
    marks = re.sub(r"[0-9]", "", digits)
    try:
        if len(marks) <= 1:
            as_decimal = Decimal(digits.replace(",", "."))
            if marks == "," and re.fullmatch(r"[1-9][0-9]{0,2},[0-9]{3}", digits):
                return [as_decimal, Decimal(digits.replace(",", ""))]
            return [as_decimal]
        last = marks[-1]
        if len(set(marks)) == 1:
            # The same mark more than once can only part thousands.
            return [Decimal(digits.replace(last, ""))] if _parts_thousands(digits, last) else []
        if marks.count(last) == 1 and _parts_thousands(digits.split(last)[0], marks[0]):
            return [Decimal(digits.replace(marks[0], "").replace(last, "."))]
    except InvalidOperation:
        return []
    return []


def _parts_thousands(digits: str, mark: str) -> bool:
    return re.fullmatch(rf"[0-9]{{1,3}}(?:{re.escape(mark)}[0-9]{{3}})+", digits) is not None


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
