"""Findings from times alone: entries that were ahead of the books' clock when they were written, and gauges that stand
before the opening stock with which their vessel's book begins.

Both were asked about where they were typed; a table is loaded without a question, so this is where it is said. One
finding for all that a period has of either, as one wrong clock or one wrong year explains them all.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import datetime, timedelta
from itertools import groupby

from django.db.models import Exists, F, OuterRef, Q, QuerySet, Subquery

from distillery import figures
from distillery.clock.reading import AHEAD, books_now, books_time, offset_days
from ledger.comparing.findings.finding import TIME, Finding
from ledger.comparing.findings.likely import CauseLine, Likely
from ledger.models import Gauge, Movement, MovementKind
from ledger.periods.calendar import bounds
from ledger.posting.accounts import OPENING_STOCK

MOST_SHOWN = 12
CHUNK = 500
_DATE = "Look at the date as it was written, and at the clock it was written by."


def untimely(period: str | None = None) -> list[Finding]:
    """Findings of times in one period, or in everything posted. What is ahead is also found in the period that it was
    written in. Raises NoSuchPeriod.
    """
    return [*_ahead(period), *_before_opening(period)]


def entries_ahead() -> list[Movement]:
    """Entries whose time has not come yet by the books' clock, in order of time; the first few."""
    now = books_now()
    entries = Movement.objects.operations().filter(happened_at__gt=now + AHEAD)
    return list(entries.order_by("happened_at", "pk")[:MOST_SHOWN])


def _ahead(period: str | None) -> Iterator[Finding]:
    entries = Movement.objects.operations()
    away = timedelta(days=offset_days())
    if period is not None:
        begins, ends = bounds(period)
        # What was written in the period and is ahead did not happen before it.
        entries = entries.filter(happened_at__gte=begins)
        entries = entries.filter(Q(period=period) | Q(written_at__gte=begins - away, written_at__lt=ends - away))
    for code, group in groupby(_in_time(_of_those_ahead(entries, away)), key=lambda one: one.period):
        found = list(group)
        first = found[0]
        said = f"{_entries(found)} ahead of the clock, which said {_shown(books_time(first.written_at))}"
        yield _finding(f"time:ahead:{code}", found, said, _shown(first.took_place_at), first.took_place_at)


def _of_those_ahead(entries: QuerySet[Movement], away: timedelta) -> QuerySet[Movement]:
    """Those whose time had not come when they were written. They are told apart here: SQLite has no sums of times of
    its own, and would ask Python about every movement there is before it asks for the period."""
    times = entries.order_by().values_list("pk", "happened_at", "written_at")
    ahead = [pk for pk, happened, written in times.iterator(chunk_size=CHUNK) if happened > written + away + AHEAD]
    # A whole log that is ahead of the clock names more than one query takes.
    return (
        Movement.objects.filter(pk__in=ahead)
        if len(ahead) <= CHUNK
        else entries.filter(happened_at__gt=F("written_at") + away + AHEAD)
    )


def _before_opening(period: str | None) -> Iterator[Finding]:
    openings = Gauge.objects.standing().filter(movement__operation=OPENING_STOCK)
    # Asked once, so that the later gauges of a vessel are not gone through for each gauge after every opening.
    last = openings.order_by("-happened_at").values("happened_at")[:1]
    opening = openings.filter(account=OuterRef("account"), happened_at__gt=OuterRef("happened_at"))
    gauges = Gauge.objects.standing().exclude(movement__operation=OPENING_STOCK)
    gauges = gauges.filter(happened_at__lt=Subquery(last)).filter(Exists(opening))
    if period is not None:
        gauges = gauges.filter(movement__period=period)
    entries = Movement.objects.filter(pk__in=gauges.values("movement"), kind=MovementKind.OPERATION)
    for code, group in groupby(_in_time(entries), key=lambda one: one.period):
        found = list(group)
        first = found[0]
        said = f"{_entries(found)} before the opening stock of a vessel in it"
        yield _finding(f"time:before opening:{code}", found, said, _shown(first.took_place_at), first.took_place_at)


def _in_time(entries: QuerySet[Movement]) -> Iterable[Movement]:
    return entries.order_by("period", "happened_at", "pk")


def _entries(found: list[Movement]) -> str:
    return "1 entry" if len(found) == 1 else f"{figures.count(len(found))} entries"


def _finding(key: str, found: list[Movement], said: str, written: str, at: datetime) -> Finding:
    first = found[0]
    cause = Likely(said, first.record_number, "", written, "", 0.0, first.record_kind)
    others = (one.record_number for one in found[1:] if one.record_number != first.record_number)
    return Finding(
        kind=TIME,
        record=first.record_number,
        record_kind=first.record_kind,
        operation=first.operation,
        at=at,
        difference_ul=0,
        uncertainty_ul=0,
        threshold_ul=0,
        in_ul=0,
        basis="",
        likely=(cause,),
        key=key,
        lines=(CauseLine((cause,), 0.0, _DATE),),
        under=tuple(dict.fromkeys(others)),
    )


def _shown(moment: datetime) -> str:
    return figures.moment(moment, year=True)
