"""What stands in the way of closing a period: what must be settled first, and what has to be explained in a remark.

The ledger looks at its own books; the floor above adds what it knows of records and stock takes by `look_also`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from typing import Final

from django.urls import reverse

from distillery import figures
from distillery.clock.reading import AHEAD, books_now
from ledger.enquiries.compared import behind, in_words, standing_failures
from ledger.enquiries.standing import unanswered_up_to
from ledger.models import Movement
from ledger.periods.calendar import Calendar, last_closing
from ledger.posting.accounts import OPENING_STOCK
from ledger.so_far import so_far


@dataclass(frozen=True, slots=True)
class NotReady:
    """One thing in the way: a sentence that says what to do, and the page on which it is done.

    `must` says that nothing but doing it helps; else a remark is enough. `by_clock` is said of the time of day alone
    (or of a comparison that is made anew before each signature) and changes without anybody writing.
    """

    sentence: str
    href: str = ""
    text: str = ""
    must: bool = True
    by_clock: bool = False


Looker = Callable[[datetime, datetime], Iterable[NotReady]]

REMEMBERED: Final = 32
# Given the first moment of the period and of the one after it.
_lookers: Final[list[Looker]] = []


def look_also(looker: Looker) -> None:
    """Adds what another floor knows; called once when the site starts."""
    if looker not in _lookers:
        _lookers.append(looker)


def next_to_close(calendar: Calendar | None = None) -> str:
    """The period that is closed next: the one after the last closed, else the first in which anything happened.

    Blank while nothing has been posted; what is ahead of the books' clock begins no period. Raises NoSuchPeriod where
    the next stock period has not been entered.
    """
    calendar = calendar or Calendar.read()
    closing = last_closing()
    if closing is not None:
        return calendar.after(closing.period)
    return _first_to_close(calendar)


def _first_to_close(calendar: Calendar) -> str:
    """The period that is closed first of all."""
    happened = Movement.objects.filter(happened_at__lte=books_now() + AHEAD)
    first = (
        happened.exclude(operation=OPENING_STOCK).order_by("period", "happened_at").first()
        or happened.order_by("happened_at").first()
    )
    return calendar.period_of(first.happened_at) if first is not None else ""


def newest_moment() -> datetime | None:
    """When the newest thing in the books happened; None while there is nothing."""
    newest = Movement.objects.order_by("-period", "-happened_at").first()
    return newest.happened_at if newest is not None else None


def not_ready(period: str, *, now: datetime, written: tuple[object, ...] | None = None) -> list[NotReady]:
    """Everything in the way of closing a period at a moment by the books' clock, what must be settled first.

    `written` is how far the books are written, where the caller has just asked. Raises NoSuchPeriod.
    """
    on_record = _on_record(period, tuple(_lookers), so_far() if written is None else written)
    calendar, ends, asked, looked = on_record.calendar, on_record.ends, on_record.asked, on_record.looked
    found = [*_in_turn(on_record, period), *_not_over(calendar, period, ends, now), *asked]
    found += _not_compared(period, calendar)
    return sorted([*found, *looked], key=lambda one: not one.must)


@dataclass(frozen=True, slots=True)
class _OnRecord:
    """What is in the way of a period by what is written, and the calendar and the last closing by which it is told."""

    calendar: Calendar
    ends: datetime
    last_closed: str
    asked: tuple[NotReady, ...]
    looked: tuple[NotReady, ...]


@lru_cache(maxsize=REMEMBERED)
def _on_record(period: str, lookers: tuple[Looker, ...], _so_far: tuple[object, ...]) -> _OnRecord:
    """Enquiries that are not answered, and what the floor above knows: remembered until anything more is written."""
    calendar, closing = Calendar.read(), last_closing()
    begins, ends = calendar.bounds(period)
    return _OnRecord(
        calendar,
        ends,
        closing.period if closing is not None else "",
        tuple(_unanswered(period)),
        tuple(one for looker in lookers for one in looker(begins, ends)),
    )


def _in_turn(on_record: _OnRecord, period: str) -> Iterable[NotReady]:
    calendar = on_record.calendar
    turn = calendar.after(on_record.last_closed) if on_record.last_closed else _first_to_close(calendar)
    if not turn:
        yield NotReady(
            "Nothing has been posted yet, so there is nothing to close.", reverse("books"), "Look at the books"
        )
    elif turn < period:
        yield NotReady(
            f"Periods are closed in order, and {calendar.name_of(turn)} comes first.",
            reverse("close_period", kwargs={"period": turn}),
            f"Close {calendar.name_of(turn)}",
        )


def _not_over(calendar: Calendar, period: str, ends: datetime, now: datetime) -> Iterable[NotReady]:
    # By the books' clock alone: an entry that is ahead of it says nothing about what is over.
    if now < ends:
        yield NotReady(
            f"{calendar.name_of(period)} is not over; it can be closed from {figures.moment(ends, year=True)}. "
            f"The clock of the books says {figures.moment(now, year=True)}.",
            reverse("month", kwargs={"period": period}),
            f"Look at {calendar.name_of(period)}",
            by_clock=True,
        )


def _not_compared(period: str, calendar: Calendar) -> Iterable[NotReady]:
    # Whoever asks compares them once more; while they cannot be compared the service closes nothing.
    for waiting in sorted(behind(until=period)):
        yield NotReady(
            f"What was written into {calendar.name_of(waiting)} has not been compared yet; ask again in a moment.",
            reverse("month", kwargs={"period": waiting}),
            f"Look at {calendar.name_of(waiting)}",
            by_clock=True,
        )
    for failed in standing_failures(until=period):
        yield NotReady(
            f"{in_words(failed)} Nothing is closed while they cannot be compared.",
            reverse("month", kwargs={"period": failed.period}),
            "Look at the month",
            must=False,
            by_clock=True,
        )


def _unanswered(period: str) -> Iterable[NotReady]:
    # What was carried from a period closed before may have raised enquiries about that one too.
    for enquiry in unanswered_up_to(period):
        yield NotReady(
            f"Enquiry {enquiry.number} about {enquiry.record_number} is not answered.",
            reverse("enquiry", kwargs={"number": enquiry.number}),
            f"Answer {enquiry.number}",
        )
