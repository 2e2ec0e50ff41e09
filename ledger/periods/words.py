"""How a closing is said in one sentence, on a page and on paper."""

from __future__ import annotations

from distillery.figures import moment
from distillery.printing.furniture import grouped
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
