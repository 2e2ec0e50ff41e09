"""What stands before the close of a month, as its page says it first: what is in the way, days to its return, what was
written late or is not on record yet.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final
from urllib.parse import urlencode

from django.urls import reverse

from distillery import figures
from distillery.clock.reading import books_now, books_today
from distillery.pages import LOOK, Fact, State
from distillery.pages import Kind as Mark
from ledger.periods.models import Closing
from ledger.periods.readiness import NotReady, not_ready
from ledger.statements.month import MonthAccount
from ledger.statements.monthly.due import ReturnDue
from ledger.statements.monthly.reading import MonthRead
from ledger.views.lists.movements import LATE

MUST: Final = State(Mark.OUT, "Settle first")
REMARK: Final = State(Mark.WATCH, "Needs a remark")
# Beyond them the page of the closing has the rest.
MOST_SHOWN: Final = 8
# From so few days on the day of a return is marked.
SOON_DAYS: Final = 3


@dataclass(frozen=True, slots=True)
class InTheWay:
    """One thing in the way of the close, with its mark; `leads` is False where its page is the month's own."""

    one: NotReady
    state: State
    leads: bool


@dataclass(frozen=True, slots=True)
class BeforeClose:
    """What is in the way, what must be settled first, as far as the page shows it; and how many more there are."""

    found: tuple[InTheWay, ...]
    more: int
    in_words: str


def before_close(account: MonthAccount, written: tuple[object, ...]) -> BeforeClose | None:
    """What is in the way of closing a month, the books being written so far; None of one that is closed."""
    if account.closing is not None:
        return None
    found = not_ready(account.period, now=books_now(), written=written)
    own = reverse("month", kwargs={"period": account.period})
    shown = tuple(InTheWay(one, MUST if one.must else REMARK, one.href not in ("", own)) for one in found[:MOST_SHOWN])
    return BeforeClose(shown, len(found) - len(shown), _in_words(found))


def _in_words(found: Sequence[NotReady]) -> str:
    musts = sum(one.must for one in found)
    if musts:
        return f"{figures.count(musts)} to settle first" + (
            f", {figures.count(len(found) - musts)} to remark on" if len(found) > musts else ""
        )
    return f"{figures.count(len(found))} to remark on" if found else "nothing is in the way"


def due_in_words(due: Sequence[ReturnDue], closing: Closing | None) -> list[Fact]:
    """Until when each return of the month is due, and how many days are left by the books' clock."""
    today = books_today()
    return [_due(one, one.days_left(today), closing is not None) for one in due]


def _due(one: ReturnDue, left: int, is_closed: bool) -> Fact:
    days = "1 day" if abs(left) == 1 else f"{figures.count(abs(left))} days"
    said = "today" if left == 0 else f"{days} left" if left > 0 else f"{days} ago"
    weekend = (
        "; no working day, and whether the next one counts was not found: take the one before" if one.is_weekend else ""
    )
    state = LOOK if not is_closed and left <= SOON_DAYS else None
    return Fact(f"{one.said} due", figures.day(one.day, year=True), note=f"{said}{weekend}. {one.source}", state=state)


def on_record(month: MonthRead) -> list[Fact]:
    """How much was written, written late, taken back, and what is not finished."""
    account, months = month.account, reverse("movements")
    late = f"{months}?{urlencode({'month': account.period, 'state': LATE})}" if account.late else ""
    facts = [
        Fact("Movements", figures.count(account.movements), href=f"{months}?{urlencode({'month': account.period})}"),
        Fact("Written late", figures.count(account.late), href=late, note="more than half an hour after it happened"),
        Fact("Taken back", figures.count(account.corrections), note="movements that take an earlier one back"),
    ]
    return facts + [Fact("Not on record yet", one.text, href=one.href, note=one.note) for one in month.not_written]
