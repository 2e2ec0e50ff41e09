"""A month as a manager reads it: its account by stage and by place, how its figures are known, losses and gains apart,
yields, the months before it, and until when its return is due. Page, paper and data are made of the same one.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from typing import Final

from distillery.clock.reading import books_today
from distillery.pages import Link
from ledger.enquiries.standing import Standing, of_period
from ledger.periods.calendar import Calendar
from ledger.periods.crossing import Crossing, crossings
from ledger.so_far import so_far
from ledger.statements.basis import TakeSaid, takes_of
from ledger.statements.month import MonthAccount, StageLine, known_periods, month_account
from ledger.statements.monthly.causes import Causes, causes_of
from ledger.statements.monthly.due import ReturnDue, last_day_of, returns_due
from ledger.statements.monthly.earlier import SHOWN, MonthLine, month_lines
from ledger.statements.monthly.known import KnownLine, known_in_all, known_lines
from ledger.statements.monthly.places import place_lines
from ledger.statements.monthly.told import YieldLine, not_written, yields_of

REMEMBERED: Final = 48


@dataclass(frozen=True, slots=True)
class MonthRead:
    """The account of a month and what stands beside it. `earlier` has the month itself first, then those before it;
    `enquiries` stand under it, `crossed` crossed a close from or into it."""

    account: MonthAccount
    places: tuple[StageLine, ...]
    known: tuple[KnownLine, ...]
    takes: tuple[TakeSaid, ...]
    causes: Causes
    yields: tuple[YieldLine, ...]
    earlier: tuple[MonthLine, ...]
    due: tuple[ReturnDue, ...]
    not_written: tuple[Link, ...]
    enquiries: tuple[Standing, ...]
    crossed: tuple[Crossing, ...]

    @property
    def known_in_all(self) -> KnownLine:
        """How the closing figure of the site is known."""
        return known_in_all(self.known)


def month_read(period: str, written: tuple[object, ...] | None = None) -> MonthRead:
    """A month as it is read now; `written` is how far the books are, where the caller has just asked. Raises
    NoSuchPeriod.

    What it takes does not grow with the casks there are. It is worked out anew whenever anything was written, and
    remembered until then by the process that asked, so that who looks twice waits once.
    """
    return _month_read(period, so_far() if written is None else written, books_today())


@lru_cache(maxsize=REMEMBERED)
def _month_read(period: str, _so_far: tuple[object, ...], _today: date) -> MonthRead:
    account = month_account(period)
    places = place_lines(period, account.site, account.stages, account.vessels)
    calendar = Calendar.read()
    before = [one for one in known_periods(calendar) if one < period][:SHOWN]
    return MonthRead(
        account=account,
        places=tuple(places),
        known=tuple(known_lines(period, places, account.vessels)),
        takes=tuple(takes_of(period)),
        causes=causes_of(period),
        yields=tuple(yields_of(account.starts, account.ends)),
        earlier=tuple(month_lines([period, *before], calendar)),
        due=tuple(returns_due(last_day_of(account.ends))),
        not_written=tuple(not_written(account.starts, account.ends)),
        enquiries=tuple(of_period(period)),
        crossed=tuple(crossings(period)),
    )
