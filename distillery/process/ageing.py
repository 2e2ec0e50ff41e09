"""How old spirit is: the time it stood in casks that count, and what may stand on a label of it.

Time counts in wooden casks of at most a size that the law says; elsewhere it stops and what was won is kept. What comes
together is as old as the youngest of it, however little that is (excise reference, section 4.2 and rows E12, E16, E22:
Scotch Whisky Regulations 2009, regulations 3(1)(c) and 12; assimilated Regulation (EC) 110/2008, Article 12(3), both
from memory). Whole years are those of the calendar. Pure functions, no database.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Final

NO_TIME: Final = timedelta()
_MARCH: Final = (3, 1)
_OAK: Final = re.compile(r"\boaks?\b")


@dataclass(frozen=True, slots=True)
class Age:
    """Time in wood that counts; `since` is the record it counts from; `or_more`: nothing is known of it before that, so
    it may be older and is not younger. `largest_litres` is the size of the largest cask it stood in, or None; `woods`
    what the casks were of, as the register has it, blank among them for one of which it says nothing.
    """

    in_wood: timedelta
    since: str
    or_more: bool = False
    largest_litres: float | None = None
    woods: frozenset[str] = frozenset()

    def began(self, at: datetime) -> datetime:
        """When it would have been filled, had it stood in wood without a break until a moment."""
        return at - self.in_wood


def after_stay(
    age: Age,
    began: datetime,
    ended: datetime,
    *,
    litres: float | None,
    most_litres: float,
    by: str = "",
    wood: str = "",
) -> Age:
    """An age after a stay in a vessel: in a cask of so many litres, or in something else where that is None.

    A cask over `most_litres` adds nothing (700 in rows E12 and E16). `by` is the record that filled it, from which time
    counts where none was counted before; `wood` is what the cask is of. Example: a year in a hogshead of 250 litres and
    a year in a vat are one year.
    """
    if litres is None or ended <= began:
        return age
    counted = ended - began if litres <= most_litres else NO_TIME
    largest = litres if age.largest_litres is None else max(litres, age.largest_litres)
    since = by if by and counted and not age.in_wood else age.since
    return Age(age.in_wood + counted, since, age.or_more, largest, age.woods | {wood.strip()})


def youngest(ages: Iterable[Age]) -> Age | None:
    """The age of what comes together: that of the youngest, the largest cask of any and all woods; None of nothing.

    Of two that are as young as each other, one that may be older tells less and goes last.
    """
    known = list(ages)
    if not known:
        return None
    least = min(known, key=lambda one: (one.in_wood, one.or_more, one.since))
    sizes = [one.largest_litres for one in known if one.largest_litres is not None]
    woods = frozenset(wood for one in known for wood in one.woods)
    return Age(least.in_wood, least.since, least.or_more, max(sizes, default=None), woods)


def is_oak(wood: str) -> bool:
    """True where what the register says of a cask's wood names an oak: 'oak', 'American oak, held sherry'."""
    return _OAK.search(wood.casefold()) is not None


def whole_years(began: date, on: date) -> int:
    """Whole years of the calendar from one day to another; 0 where the second is not later.

    What began on 29 February has its years on 1 March. Example: from 2 December 2017 to 25 November 2026 are 8 (excise
    reference, worked check 12).
    """
    years = on.year - began.year
    month_and_day = _MARCH if (began.month, began.day) == (2, 29) and not _leaps(on.year) else (began.month, began.day)
    return max(0, years - ((on.month, on.day) < month_and_day))


def years_of_calendar(began: date, on: date) -> float:
    """The same with the days beyond the last whole year as a share of a year, always under 1."""
    years = whole_years(began, on)
    last = _in_year(began, began.year + years)
    following = _in_year(began, began.year + years + 1)
    return years + max(0, (on - last).days) / (following - last).days


def statement_holds(stated_years: int, began: date, on: date) -> bool:
    """True where an age in whole years may be stated of spirit as old as that: no more than its youngest has."""
    return 0 <= stated_years <= whole_years(began, on)


def _in_year(day: date, year: int) -> date:
    if (day.month, day.day) == (2, 29) and not _leaps(year):
        return date(year, *_MARCH)
    return day.replace(year=year)


def _leaps(year: int) -> bool:
    return year % 4 == 0 and (year % 100 != 0 or year % 400 == 0)
