"""Until when the returns of a month are due: by the site's dated rules of what has to be reported, never by a constant.

Whether another day counts where the last one is no working day was not found, so a Saturday or Sunday is said and left
to people.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Final

from distillery.clock.reading import site_day
from distillery.rules.names import SATURDAY, duties

# What the rules call the returns of a period, with the word of their page.
RETURNS: Final = {"alcohol duty return": "Alcohol Duty return", "warehouse return": "Warehouse return"}
EVERY_PERIOD: Final = ("every calendar month", "every stock period")


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
    """Returns due for a month or stock period that ends on a day, the first one first; none where no rule says so."""
    found = [
        ReturnDue(called, day, rule.source)
        for operation, called in RETURNS.items()
        for rule in duties(operation, last_day, *EVERY_PERIOD)
        if (day := rule.by_day(last_day))
    ]
    return sorted(found, key=lambda one: one.day)


def last_day_of(ends: datetime) -> date:
    """The last day of a period from the first moment after it."""
    return site_day(ends - timedelta(microseconds=1))
