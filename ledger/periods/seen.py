"""What a person who asks for a closing, or agrees to one, has before them: the books up to their last entry.

The clock is left out, since it moves on by itself. Everything else that can change between the page and its button is
in it: entries, enquiries and how they stand, what the records say, and what was asked for.
"""

from __future__ import annotations

from datetime import datetime

from django.db.models import Count

from distillery.figures import count, moment
from distillery.printing.furniture import grouped
from ledger.enquiries.models import Enquiry
from ledger.enquiries.standing import standings
from ledger.models import Movement
from ledger.periods.calendar import request_of
from ledger.periods.models import CloseRequest
from ledger.periods.readiness import not_ready

NOTHING = "nothing"


def closing_as_seen(period: str, *, now: datetime) -> dict[str, str]:
    """Labels and words of what a signature under a closing is about. Raises NoSuchPeriod."""
    last = Movement.objects.filter(period__lte=period).order_by("-pk").first()
    enquiries = list(Enquiry.objects.filter(period__lte=period).annotate(done=Count("events")).order_by("pk"))
    shown = {
        "Last entry": f"movement {last.pk}, seal {grouped(last.seal)}" if last is not None else NOTHING,
        "In the way": " ".join(one.sentence for one in not_ready(period, now=now) if not one.by_clock) or NOTHING,
        "Asked for": _asked(request_of(period)),
    }
    for enquiry, standing in zip(enquiries, standings(enquiries), strict=True):
        shown[enquiry.number] = f"{standing.in_words}, {count(enquiry.done)} things done"
    return shown


def _asked(request: CloseRequest | None) -> str:
    if request is None:
        return NOTHING
    said = f"by {request.person.shown_name}, {moment(request.asked_at, year=True)}, number {request.pk}"
    return f"{said}: {request.remark}" if request.remark else said
