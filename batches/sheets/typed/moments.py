"""From a time as it was typed to a moment: by the site's clock, with or without its day, with an offset or without.

An hour that the clocks leave out when they go forward is taken as the moment of the change, an hour that comes twice as
the first of the two; both are said.
"""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.conf import settings

from batches.sheets.declared import Field
from distillery import figures
from distillery.clock.reading import is_ahead
from distillery.years import is_of_a_site

_ISO = re.compile(
    r"([0-9]{4})-([0-9]{1,2})-([0-9]{1,2})[T ]+([0-9]{1,2})[:.]?([0-9]{2})(?::([0-9]{2})(?:\.[0-9]+)?)?"
    r"\s*(Z|[+\-][0-9]{2}:?[0-9]{2})?"
)
_DAY_FIRST = re.compile(r"([0-9]{1,2})[/. ]([0-9]{1,2}|[A-Za-z]{3,9})[/. ]([0-9]{4})[T, ]+([0-9]{1,2})[:.]?([0-9]{2})")
_CLOCK = re.compile(r"([0-9]{1,2})[:.]([0-9]{2})|([0-9]{2})([0-9]{2})")
NOW = "now"


class Unreadable(ValueError):
    """What was typed cannot be, or not be understood; `str()` is the sentence, `instead` what may have been meant."""

    def __init__(self, sentence: str, instead: tuple[str, ...] = ()) -> None:
        super().__init__(sentence)
        self.instead = instead


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


def with_day_alone(moment: datetime) -> str:
    """A moment that was typed without its day as text that says the day and no more: in the hour that comes twice
    nobody has said which of the two it was, and it is asked.
    """
    return moment.astimezone(ZoneInfo(settings.TIME_ZONE)).strftime("%Y-%m-%dT%H:%M")


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
