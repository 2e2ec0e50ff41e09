"""What several pages share: finding the sheet and record of an address, paging by key, months as filters."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from urllib.parse import urlencode

from django.db.models import Q, QuerySet
from django.http import Http404, HttpRequest
from django.utils import timezone

from batches.models import Record
from batches.pages.records.shown import RecordAsWritten
from batches.sheets.sheet import Sheet
from batches.steps import NoSuchStep, sheet_of
from distillery.people.models import Person
from distillery.years import is_of_a_site

PAGE = 50


def sheet_or_404(kind: str) -> Sheet:
    """The sheet of a kind of record."""
    try:
        return sheet_of(kind)
    except NoSuchStep as error:
        raise Http404(str(error)) from error


def record_or_404(kind: str, number: str) -> RecordAsWritten:
    """A record with its sheet; capital and small letters of its number alike."""
    sheet = sheet_or_404(kind)
    records = Record.objects.select_related("opened_by", "second")
    record = (
        records.filter(kind=kind, number=number).first() or records.filter(kind=kind, number__iexact=number).first()
    )
    if record is None:
        raise Http404(f"There is no {sheet.title.lower()} {number}.")
    return RecordAsWritten(record, sheet)


def signed_on(request: HttpRequest) -> Person:
    """The person at the page; every page but the sign-on asks for one."""
    person = request.user
    if not isinstance(person, Person):
        raise TypeError("A page of records was opened without signing on.")
    return person


# -- paging by key


@dataclass(frozen=True, slots=True)
class RecordPage:
    """One page of a list, newest first, and the addresses of the pages beside it."""

    records: list[Record]
    older: str
    newer: str


def page_of_records(request: HttpRequest, records: QuerySet[Record], size: int = PAGE) -> RecordPage:
    """Pages by the time and key of the last record seen, so that a long list costs what a short one does."""
    before, after = _key(request.GET.get("before", "")), _key(request.GET.get("after", ""))
    if after is not None:
        at, pk = after
        later = records.filter(Q(happened_from__gt=at) | Q(happened_from=at, pk__gt=pk))
        found = list(later.order_by("happened_from", "pk")[: size + 1])
        has_newer, has_older = len(found) > size, True
        found = found[:size][::-1]
    else:
        if before is not None:
            at, pk = before
            records = records.filter(Q(happened_from__lt=at) | Q(happened_from=at, pk__lt=pk))
        found = list(records.order_by("-happened_from", "-pk")[: size + 1])
        has_older, has_newer = len(found) > size, before is not None
        found = found[:size]
    return RecordPage(
        found,
        older=_address(request, "before", found[-1]) if found and has_older else "",
        newer=_address(request, "after", found[0]) if found and has_newer else "",
    )


def _key(text: str) -> tuple[datetime, int] | None:
    stamp, _, pk = text.partition("_")
    try:
        at = datetime.fromisoformat(stamp)
        return (at, int(pk)) if is_of_a_site(at) and timezone.is_aware(at) else None
    except ValueError:
        return None


def _address(request: HttpRequest, name: str, record: Record) -> str:
    return with_query(request, drop=("before", "after"), **{name: f"{record.happened_from.isoformat()}_{record.pk}"})


def with_query(request: HttpRequest, *, drop: Sequence[str] = (), **more: str) -> str:
    """The address of this page with its filters, some dropped and some added."""
    kept = {name: value for name, value in request.GET.items() if name not in drop and value}
    return f"?{urlencode(kept | more)}"


# -- months


def month_bounds(text: str) -> tuple[datetime, datetime] | None:
    """The first moment of a month written '2027-03' and of the next one; None for anything else."""
    try:
        first = timezone.make_aware(datetime.strptime(text, "%Y-%m"))
    except (ValueError, OverflowError):
        return None
    if not is_of_a_site(first):
        return None
    later = timezone.localtime(first + timedelta(days=32))
    return first, timezone.make_aware(datetime(later.year, later.month, 1))
