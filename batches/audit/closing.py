"""What the records say about closing a period: those not finished, those that wait, and whether stock was taken.

How often stock is taken, and that it is taken at the end of a period of account, is common practice without a source;
a period without one can be closed with a remark.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Final

from django.db.models import Q
from django.urls import reverse
from django.utils import timezone

from batches.counting.models import StockTake
from batches.models import Record, State
from batches.pages.records.shown import record_address
from batches.records import signatures
from batches.sheets.sheet import StockTaken
from batches.steps import STEPS, sheet_of
from distillery import figures
from distillery.rules.setting import two_hands
from ledger.periods.readiness import NotReady

# Enough to see what is left; the list of records has them all.
MOST_SHOWN: Final = 25


def records_not_ready(begins: datetime, ends: datetime) -> Iterable[NotReady]:
    """Records begun before the end of a period that are not finished, a stock take that is missing, and figures of the
    site that wait for a second person longer than a week."""
    begun = Record.objects.filter(happened_from__lt=ends).order_by("happened_from", "pk")
    for record in begun.filter(state=State.WAITING)[:MOST_SHOWN]:
        waits = "waits for a second person; it is in the books only when somebody has agreed."
        if signatures.newest(record) is not None:
            waits = "was changed since it was countersigned; the change waits for a second person."
        yield NotReady(f"{_named(record)} {waits}", record_address(record), f"Open {record.number}")
    for record in signatures.posted_unsigned(begun)[:MOST_SHOWN]:
        yield NotReady(
            f"{_named(record)} was changed since it was countersigned; a second person has to agree again.",
            record_address(record),
            f"Open {record.number}",
        )
    for record in begun.filter(state=State.OPEN)[:MOST_SHOWN]:
        yield NotReady(
            f"{_named(record)} is not finished; finish it, or say that it is still going on.",
            record_address(record),
            f"Open {record.number}",
            must=False,
        )
    for take in StockTake.objects.filter(ending__isnull=True, said_at__lt=ends).order_by("pk")[:MOST_SHOWN]:
        yield NotReady(
            f"Stock take {take.number} of {figures.day(take.day, year=True)} is not posted; post it in two names, or "
            "give it up.",
            reverse("stock_take", args=[take.serial]),
            f"Open {take.number}",
        )
    for asked in two_hands.waiting():
        if two_hands.waits_long(asked, timezone.now()):
            yield NotReady(
                f"A figure of the site that {asked.person.shown_name} asked for waits for a second person since "
                f"{figures.moment(asked.asked_at, year=True)}; agree to it, or refuse it.",
                reverse("figure_waiting", args=[asked.pk]),
                "Open the figure",
                must=False,
            )
    # One whose change waits for a second person is still in the books as it was signed.
    in_books = Q(state=State.COMPLETE) | Q(state=State.WAITING, postings__isnull=False)
    stock_takes = [sheet for sheet in STEPS if sheet.takes_stock == StockTaken.AGAIN]
    taken = begun.filter(in_books, kind__in=[sheet.kind for sheet in stock_takes]).distinct()
    if taken.filter(happened_from__gte=begins).exists():
        return
    last = taken.last()
    since = f" The last was {last.number}, {figures.moment(last.happened_from, year=True)}." if last is not None else ""
    said = f"No stock was taken in this period.{since}"
    yield NotReady(said, reverse("stock_take_new"), "Start a stock take", must=False)


def _named(record: Record) -> str:
    title = sheet_of(record.kind).title
    return f"{title} {record.number} of {figures.moment(record.happened_from, year=True)}"
