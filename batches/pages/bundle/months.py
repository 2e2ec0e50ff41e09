"""The months that a bundle is asked for, and which of its parts."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from batches.pages.bundle.chosen import EVERY, NAMES, Group
from batches.returns.months import Span, is_month, span_of
from distillery.clock.reading import books_today
from ledger.periods.calendar import Calendar, NoSuchPeriod
from ledger.statements.month import known_periods

# Two years of a site are a document that can still be opened anywhere; more are bundles of their own.
MOST_MONTHS: Final = 24


class NoSuchMonths(ValueError):
    """These months, or parts of them, cannot be bundled; the sentence says why and what to do."""


@dataclass(frozen=True, slots=True)
class Months:
    """One month after another, each with its code, and the parts that are wanted of them, in their order."""

    spans: tuple[Span, ...]
    parts: tuple[Group, ...] = EVERY

    @property
    def first(self) -> Span:
        """The first month."""
        return self.spans[0]

    @property
    def last(self) -> Span:
        """The last month."""
        return self.spans[-1]

    @property
    def number(self) -> str:
        """What the documents of all months are numbered: 'OB-2027-03', or 'OB-2027-03 to 2027-05'."""
        return f"OB-{self.first.code}" + (f" to {self.last.code}" if len(self.spans) > 1 else "")

    @property
    def bundle_number(self) -> str:
        """What the bundle is numbered: as they are, or 'OB-2027-03, parts 1 4' where it has these alone."""
        return self.number + ("" if self.parts == EVERY else f", parts {self._places}")

    @property
    def left_out(self) -> str:
        """The names of the parts that are not in it; blank where all are."""
        return "; ".join(NAMES[one] for one in EVERY if one not in self.parts)

    @property
    def file_name(self) -> str:
        """What a folder or archive of it is called."""
        only = "" if self.parts == EVERY else f"-parts-{self._places.replace(' ', '-')}"
        return f"officer-bundle-{self.first.code}-to-{self.last.code}{only}"

    @property
    def _places(self) -> str:
        return " ".join(str(EVERY.index(one) + 1) for one in self.parts)

    @property
    def name(self) -> str:
        """'March 2027', or 'March 2027 to May 2027'."""
        return self.first.name + (f" to {self.last.name}" if len(self.spans) > 1 else "")


def months_of(first: str, last: str, parts: Collection[str] = ()) -> Months:
    """The months from one to another, as '2027-03' both, with these parts of them, all where none is named. Raises
    NoSuchMonths."""
    for one in parts:
        if one not in EVERY:
            raise NoSuchMonths(f"A bundle has no part '{one[:20]}'; its parts are {', '.join(EVERY)}.")
    for code in (first, last):
        if not is_month(code):
            raise NoSuchMonths(f"'{code[:20]}' is not a month; write it as 2027-03.")
    if first > last:
        raise NoSuchMonths(f"The bundle is asked for from {first} to {last}: the first month comes after the last.")
    try:
        spans = [span_of(first)]
        while spans[-1].code < last and len(spans) <= MOST_MONTHS:
            spans.append(span_of(_code_after(spans[-1].last_day)))
    except NoSuchPeriod as unknown:
        raise NoSuchMonths(str(unknown)) from unknown
    if len(spans) > MOST_MONTHS:
        raise NoSuchMonths(f"A bundle holds at most {MOST_MONTHS} months; ask for several, one after another.")
    if spans[-1].first_day > books_today():
        raise NoSuchMonths(f"{spans[-1].name} is still to come; ask for months up to this one.")
    return Months(tuple(spans), tuple(one for one in EVERY if one in parts) or EVERY)


def periods_in(span: Span) -> list[str]:
    """The periods of the books that a month lies in: itself, or the site's own stock periods that cut through it."""
    if span.periods:
        return list(span.periods)
    calendar = Calendar.read()
    bounds = {period: calendar.bounds(period) for period in known_periods(calendar)}
    return sorted(period for period, (starts, ends) in bounds.items() if starts < span.ends and ends > span.starts)


def _code_after(day: date) -> str:
    return f"{day + timedelta(days=1):%Y-%m}"
