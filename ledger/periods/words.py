"""How a closing is said in one sentence, on a page and on paper."""

from __future__ import annotations

from datetime import datetime

from distillery.figures import moment
from distillery.printing.furniture import grouped
from ledger.periods.calendar import Calendar, NoSuchPeriod, last_closing
from ledger.periods.models import Closing

NOT_CLOSED = "Not closed: entries can still be written into this period."


def closed_in_words(closing: Closing | None, *, in_full: bool = False) -> str:
    """'Closed by A and B on Thu 1 Apr 2027 09:00, closing 1, digest 9f3c 71d0 44ab e802.'; `in_full` with all of it."""
    if closing is None:
        return NOT_CLOSED
    digest = grouped(closing.digest) + (f" in short, in full {closing.digest}" if in_full else "")
    return (
        f"Closed by {closing.request.person.shown_name} and {closing.person.shown_name} on "
        f"{moment(closing.agreed_at, year=True)}, closing {closing.number}, digest {digest}."
    )


def carried_in_words(happened_at: datetime | None = None) -> str:
    """Where the books carry what is written about closed time; blank while nothing is closed, or that moment is not.

    With the moment of a record, what is put right on it; without one, whatever is written that happened before.
    """
    closing = last_closing()
    if closing is None or (happened_at is not None and happened_at >= closing.ends):
        return ""
    calendar = Calendar.read()
    try:
        into = calendar.name_of(calendar.period_of(closing.ends))
    except NoSuchPeriod:
        into = "the period after it, which has to be entered first"
    if happened_at is None:
        return (
            f"All before {moment(closing.ends, year=True)} is closed. What happened before then can still be written: "
            f"the books carry it in {into}, as late, with its true time."
        )
    return (
        f"{calendar.name_of(calendar.period_of(happened_at))} is closed and its account stays as it is. What is put "
        f"right here is carried in {into} with its true time, {moment(happened_at, year=True)}; both accounts name it."
    )
