"""Which month or quarter a return is of, from when to when it goes, and until when it is due.

The duty return goes by the calendar month, also where the site's books have stock periods; spirits made and cereals
used by the quarter, inside the return of its last month (GOV.UK, Alcoholic products technical guide, sections 5.1 and
5.10).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Final

from django.db.models import Q
from django.utils import timezone

from distillery import figures
from distillery.rules.models import ReportingDuty
from distillery.rules.names import Duty, duties
from distillery.years import is_of_a_site
from ledger.periods.calendar import Calendar, NoSuchPeriod, open_from
from ledger.statements.month import known_periods

RETURN: Final = "alcohol duty return"
WAREHOUSE: Final = "warehouse return"
EVERY_MONTH: Final = "every calendar month"
EVERY_QUARTER: Final = "every quarter"
EVERY_STOCK_PERIOD: Final = "every stock period"
MONTHS_A_QUARTER: Final = 3
MONTHS_A_YEAR: Final = 12
_MONTH: Final = re.compile(r"([0-9]{4})-(0[1-9]|1[0-2])")
_QUARTER: Final = re.compile(r"([0-9]{4})-Q([1-4])")
_ONE_DAY: Final = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Span:
    """A month or a quarter, by its code: the first moment of it and of what follows, on the site's clock.

    `periods` are those of the books that are its months; none where the site's stock periods cut through them.
    """

    code: str
    starts: datetime
    ends: datetime
    is_quarter: bool
    periods: tuple[str, ...]

    @property
    def first_day(self) -> date:
        """Its first day."""
        return timezone.localtime(self.starts).date()

    @property
    def last_day(self) -> date:
        """Its last day."""
        return timezone.localtime(self.ends).date() - _ONE_DAY

    @property
    def name(self) -> str:
        """'March 2027', or 'January to March 2027'."""
        if not self.is_quarter:
            return figures.month(self.first_day)
        return f"{figures.month(self.first_day).split()[0]} to {figures.month(self.last_day)}"

    @property
    def quarter(self) -> str:
        """The code of the quarter that ends with this month, or '' where none does."""
        last = self.last_day
        if self.is_quarter:
            return self.code
        return f"{last.year:04d}-Q{last.month // MONTHS_A_QUARTER}" if last.month % MONTHS_A_QUARTER == 0 else ""

    def holds(self, way: str = "movement__") -> Q:
        """What the books carry in it, on the way to movements: by period, so that what was there when the books began
        stands before it, and by time where stock periods cut through it."""
        if self.periods:
            return Q(**{f"{way}period__in": self.periods})
        return Q(**{f"{way}happened_at__gte": self.starts, f"{way}happened_at__lt": self.ends})

    @property
    def is_closed(self) -> bool:
        """True where the books take nothing more that happened in it."""
        opens = open_from()
        return opens is not None and opens >= self.ends

    def due(self) -> list[Due]:
        """What is due after it, by the rules in force on its last day, the earliest first."""
        if self.is_quarter:
            asked = [(RETURN, EVERY_QUARTER)]
        else:
            asked = [(RETURN, EVERY_MONTH), (WAREHOUSE, EVERY_STOCK_PERIOD)]
            asked += [(RETURN, EVERY_QUARTER)] if self.quarter else []
        found = [
            Due(one, one.by_day(self.last_day))
            for operation, occasion in asked
            for one in duties(operation, self.last_day, occasion)
        ]
        return sorted(found, key=lambda one: one.day or date.max)


def return_months(today: date) -> list[Span]:
    """From the first month in which anything happened to the one that goes on, the newest first: a month without
    movements has a nil return. Three queries. None where nothing has happened."""
    calendar = Calendar.read()
    periods = known_periods(calendar)
    if not periods:
        return []
    first = calendar.days(periods[-1])[0].replace(day=1)
    found, month = [], today.replace(day=1)
    while month >= first:
        found.append(span_of(f"{month:%Y-%m}", calendar))
        month = (month - _ONE_DAY).replace(day=1)
    return found


def last_days(spans: Sequence[Span]) -> dict[str, date | None]:
    """By code the last day of the return of each of these months, by the rule in force as it ended. One query."""
    rules = list(
        ReportingDuty.objects.filter(operation=RETURN, occasion=EVERY_MONTH, within_days__isnull=False).order_by(
            "from_day", "pk"
        )
    )
    found: dict[str, date | None] = {}
    for span in spans:
        held = [one for one in rules if one.from_day <= span.last_day]
        days = held[-1].within_days if held else None
        found[span.code] = None if days is None else span.last_day + timedelta(days=days)
    return found


@dataclass(frozen=True, slots=True)
class Due:
    """A return that is due, and its last day (None where no rule counts days)."""

    rule: Duty
    day: date | None


def is_month(code: str) -> bool:
    """Whether a code names a calendar month, as that of most stock periods does."""
    return bool((month := _MONTH.fullmatch(code)) and is_of_a_site(int(month[1])))


def span_of(code: str, calendar: Calendar | None = None) -> Span:
    """The month '2027-03' or the quarter '2027-Q1'; `calendar` where it was read. Raises NoSuchPeriod."""
    calendar = calendar or Calendar.read()
    if is_month(code):
        year, first = (int(part) for part in code.split("-"))
        return _span(code, year, first, first, calendar)
    if (quarter := _QUARTER.fullmatch(code)) and is_of_a_site(int(quarter[1])):
        year, last = int(quarter[1]), int(quarter[2]) * MONTHS_A_QUARTER
        return _span(code, year, last - MONTHS_A_QUARTER + 1, last, calendar)
    raise NoSuchPeriod(f"'{code}' is neither a month nor a quarter; write it like 2027-03 or 2027-Q1.")


def quarter_name(span: Span) -> str:
    """'January to March 2027', of the quarter that ends with a month; '' where none does."""
    if not span.quarter:
        return ""
    first = date(span.last_day.year, span.last_day.month - MONTHS_A_QUARTER + 1, 1)
    return f"{figures.month(first).split()[0]} to {figures.month(span.last_day)}"


def month_of(moment: datetime) -> str:
    """The code of the calendar month to which a moment belongs on the site's clock."""
    return f"{timezone.localtime(moment):%Y-%m}"


def _span(code: str, year: int, first: int, last: int, calendar: Calendar) -> Span:
    months = [f"{year:04d}-{month:02d}" for month in range(first, last + 1)]
    starts, ends = _starts(year, first), _starts(year, last + 1)
    try:
        whole = all(
            calendar.bounds(one) == (_starts(year, int(one[5:])), _starts(year, int(one[5:]) + 1)) for one in months
        )
    except NoSuchPeriod:
        whole = False
    return Span(code, starts, ends, last > first, tuple(months) if whole else ())


def _starts(year: int, month: int) -> datetime:
    year, month = (year + 1, 1) if month > MONTHS_A_YEAR else (year, month)
    return timezone.make_aware(datetime.combine(date(year, month, 1), time()))
