"""Which period of account a moment belongs to, and which periods are closed.

A period is a calendar month by the site's clock ('2027-03') or, from the first day of the first stock period the site
has entered, that stock period. Codes are seven characters and sort as the periods follow one another. A month cut
short by the first stock period ends where that begins. Nothing here writes.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from django.conf import settings

from distillery import figures
from distillery.clock.reading import site_day
from distillery.database.fixed_sql import as_read, ask, ask_one
from distillery.years import is_of_a_site
from ledger.periods.models import CloseRequest, Closing

MONTH = re.compile(r"[0-9]{4}-(0[1-9]|1[0-2])")
STOCK_PERIOD = re.compile(r"[0-9]{4}-(0[1-9]|[1-4][0-9]|5[0-3])")
ONE_DAY = timedelta(days=1)

_STOCK_PERIODS: Final = "SELECT code, first_day, last_day FROM ledger_stockperiod"
# The newest closing, and every stock period beside it; one row with nothing in it where there is neither.
_CLOSED_AND_STOCK_PERIODS: Final = """
SELECT closing.period, closing.ends, span.code, span.first_day, span.last_day FROM (SELECT 1 AS always) one
LEFT JOIN (SELECT period, ends FROM ledger_closing ORDER BY number DESC LIMIT 1) closing ON 1 = 1
LEFT JOIN ledger_stockperiod span ON 1 = 1
"""
_CLOSED_UPTO: Final = "SELECT period, ends FROM ledger_closing ORDER BY number DESC LIMIT 1"


class NoSuchPeriod(ValueError):
    """The text names no period, or no period has been entered for a moment; one sentence."""


@dataclass(frozen=True, slots=True)
class Span:
    """A stock period: its code, first and last day, both belonging to it."""

    code: str
    first_day: date
    last_day: date


class Calendar:
    """Months and stock periods as the site has entered them; read once for each piece of work."""

    def __init__(self, spans: Sequence[Span] = ()) -> None:
        self._spans = sorted(spans, key=lambda span: span.first_day)
        self._firsts = [span.first_day for span in self._spans]
        self._by_code = {span.code: span for span in self._spans}
        self._zone = ZoneInfo(settings.TIME_ZONE)

    @classmethod
    def read(cls) -> Calendar:
        """The calendar as it stands; one query."""
        return cls([Span(*row) for row in ask(_STOCK_PERIODS)])

    @property
    def spans(self) -> list[Span]:
        """Stock periods in order."""
        return list(self._spans)

    def period_of(self, moment: datetime) -> str:
        """The period a moment belongs to. Raises NoSuchPeriod after the last stock period."""
        return self._of_day(moment.astimezone(self._zone).date())

    def days(self, period: str) -> tuple[date, date]:
        """First and last day of a period. Raises NoSuchPeriod."""
        span = self._by_code.get(period)
        if span is not None:
            return span.first_day, span.last_day
        if not MONTH.fullmatch(period) or not is_of_a_site(int(period[:4])):
            raise NoSuchPeriod(f"'{period}' is not a month; write it like 2027-03.")
        year, month = int(period[:4]), int(period[5:])
        first, last = date(year, month, 1), date(year + month // 12, month % 12 + 1, 1) - ONE_DAY
        if self._spans and first >= self._firsts[0]:
            begin = figures.day(self._firsts[0], year=True)
            raise NoSuchPeriod(f"'{period}' is no stock period of this site; they begin {begin}.")
        if self._spans:
            last = min(last, self._firsts[0] - ONE_DAY)
        return first, last

    def bounds(self, period: str) -> tuple[datetime, datetime]:
        """First moment of a period and of the one after it, by the site's clock. Raises NoSuchPeriod."""
        first, last = self.days(period)
        return self.start_of(first), self.start_of(last + ONE_DAY)

    def before(self, period: str) -> str:
        """The period before one. Raises NoSuchPeriod."""
        return self._of_day(self.days(period)[0] - ONE_DAY)

    def after(self, period: str) -> str:
        """The period after one. Raises NoSuchPeriod, also after the last stock period."""
        return self._of_day(self.days(period)[1] + ONE_DAY)

    def name_of(self, period: str) -> str:
        """'March 2027', or 'Stock period 2027-04, Mon 29 Mar 2027 to Sun 2 May 2027'. Raises NoSuchPeriod."""
        first, last = self.days(period)
        if period not in self._by_code:
            return figures.month(first)
        return f"Stock period {period}, {figures.day(first, year=True)} to {figures.day(last, year=True)}"

    def _of_day(self, day: date) -> str:
        place = bisect_right(self._firsts, day)
        if place == 0:
            return f"{day.year:04d}-{day.month:02d}"
        span = self._spans[place - 1]
        if day > span.last_day:
            raise NoSuchPeriod(
                f"{figures.day(day, year=True)} lies after the last stock period; enter the next one first."
            )
        return span.code

    def start_of(self, day: date) -> datetime:
        """The first moment of a day by the site's clock."""
        return datetime.combine(day, time(), self._zone)


def period_of(moment: datetime) -> str:
    """The period, by the site's own clock, whose account a moment belongs to. Raises NoSuchPeriod."""
    return Calendar.read().period_of(moment)


def bounds(period: str) -> tuple[datetime, datetime]:
    """First moment of a period and of the one after it, by the site's clock. Raises NoSuchPeriod."""
    return Calendar.read().bounds(period)


def name_of(period: str) -> str:
    """What a period is called. Raises NoSuchPeriod."""
    return Calendar.read().name_of(period)


def last_closing() -> Closing | None:
    """The newest closing; nothing may be posted to have happened before its end."""
    return Closing.objects.order_by("-number").first()


def open_from() -> datetime | None:
    """The first moment that is not closed; None while nothing is."""
    return closed_upto()[1]


def calendar_and_closed() -> tuple[Calendar, str, datetime | None]:
    """The calendar as it stands, with code and end of the newest closed period as `closed_upto` has them; one query."""
    rows = ask(_CLOSED_AND_STOCK_PERIODS)
    period, ends = rows[0][:2]
    calendar = Calendar([Span(*row[2:]) for row in rows if row[2] is not None])
    return calendar, period or "", None if ends is None else as_read(ends)


def closed_upto() -> tuple[str, datetime | None]:
    """Code and end of the newest closed period; blank and None while nothing is closed."""
    row = ask_one(_CLOSED_UPTO)
    return ("", None) if row is None else (row[0], as_read(row[1]))


def last_closed_day() -> date | None:
    """The last day, on the site's clock, of the newest closed period; None while nothing is closed."""
    ends = open_from()
    return None if ends is None else site_day(ends) - ONE_DAY


def first_open() -> str:
    """The first period that can still be answered for; blank while nothing is closed, or the next is not entered."""
    ends = open_from()
    if ends is None:
        return ""
    try:
        return period_of(ends)
    except NoSuchPeriod:
        return ""


def closing_of(period: str) -> Closing | None:
    """The closing that shut a period by itself or with what came before it; None where it is open."""
    return (
        Closing.objects.filter(period__gte=period)
        .select_related("request__person", "person")
        .order_by("period")
        .first()
    )


def is_closed(period: str) -> bool:
    """True where a period takes no posting any more."""
    return Closing.objects.filter(period__gte=period).exists()


def request_of(period: str) -> CloseRequest | None:
    """The newest request to close a period that no closing has answered."""
    newest = CloseRequest.objects.filter(period=period).select_related("person").order_by("-id").first()
    return None if newest is None or is_closed(period) else newest
