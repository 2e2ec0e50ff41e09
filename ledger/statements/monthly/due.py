"""Until when the return of a month is due: by the site's dated rules of what has to be reported, never by a constant.

A rule says it in days after the end of the month (`within_days`), or in words: 'the 15th of the next month'. Whether
another day counts where that one is no working day was not found, so a Saturday or Sunday is said and left to people.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Final

from distillery.clock.reading import site_day
from distillery.rules.models import ReportingDuty

# What the rules call the returns of a period, with the word of their page; and the removal whose duty goes onto one,
# for sites whose rules say no more.
RETURNS: Final = {"alcohol duty return": "Alcohol Duty return", "warehouse return": "Warehouse return"}
EVERY_PERIOD: Final = ("every calendar month", "every stock period")
OF_REMOVALS: Final = ("removal", "home use")
OF_THE_NEXT_MONTH: Final = re.compile(r"\bthe (\d{1,2})(?:st|nd|rd|th) of the next month\b")
SATURDAY: Final = 5


@dataclass(frozen=True, slots=True)
class ReturnDue:
    """The last day of a return, what it is, and the text that says so."""

    said: str
    day: date
    source: str

    @property
    def is_weekend(self) -> bool:
        """True of a Saturday or a Sunday."""
        return self.day.weekday() >= SATURDAY

    def days_left(self, today: date) -> int:
        """Days from a day to the last one; below nothing where it is past."""
        return (self.day - today).days


def returns_due(last_day: date) -> list[ReturnDue]:
    """Returns due for a month or stock period that ends on a day, the first one first; none where no rule says so.

    The rule that holds is the newest one begun by that day. One query.
    """
    rules = (*RETURNS, OF_REMOVALS[0])
    rows = ReportingDuty.objects.filter(
        operation__in=rules, occasion__in=(*EVERY_PERIOD, OF_REMOVALS[1]), from_day__lte=last_day
    )
    newest = {row.operation: row for row in rows.order_by("from_day", "pk")}
    if newest.keys() & RETURNS.keys():
        newest.pop(OF_REMOVALS[0], None)
    found = [ReturnDue(_called(row), day, row.source) for row in newest.values() if (day := _day(row, last_day))]
    return sorted(found, key=lambda one: one.day)


def last_day_of(ends: datetime) -> date:
    """The last day of a period from the first moment after it."""
    return site_day(ends - timedelta(microseconds=1))


def _called(row: ReportingDuty) -> str:
    return RETURNS.get(row.operation, RETURNS["alcohol duty return"])


def _day(row: ReportingDuty, last_day: date) -> date | None:
    if row.within_days is not None:
        return last_day + timedelta(days=row.within_days)
    found = OF_THE_NEXT_MONTH.search(row.until)
    if found is None:
        return None
    first = (last_day.replace(day=28) + timedelta(days=4)).replace(day=1)
    try:
        return first.replace(day=int(found[1]))
    except ValueError:
        return None
