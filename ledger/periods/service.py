"""Closing a period: one person asks, another agrees, and what every account came to is frozen and sealed.

A closing shuts its period and everything before it. Nothing is posted there any more; what must be put right later is
carried by the first open period (ledger/periods/places.py). Stock periods are entered here too.

Before either signature the figures of the whole period are compared once more. What that finds is written down first,
in a transaction of its own, and then whatever stands in the way is said: a refusal never names what it takes back.
"""

from __future__ import annotations

import logging
from collections.abc import Iterable
from datetime import date, datetime, timedelta
from typing import Final

from django.db import DatabaseError
from django.db.models import Sum
from django.urls import reverse
from django.utils import timezone

from distillery import figures, signed
from distillery.afterwards import afterwards
from distillery.clock.reading import books_now
from distillery.database.counted_tables import count_tables
from distillery.database.retrying import retried
from distillery.people.models import Person
from distillery.people.roles import CLOSERS, PLANT_KEEPERS, holds, may_write
from distillery.seals.lookup import last_seal
from ledger.enquiries.compared import behind, could_not, note_failure, standing_failures
from ledger.enquiries.following import bring_period
from ledger.models import Account, AccountMonth, Head, Movement
from ledger.periods import sealed
from ledger.periods.calendar import STOCK_PERIOD, Calendar, NoSuchPeriod, last_closing, request_of
from ledger.periods.models import CloseRequest, Closing, ClosingBalance, StockPeriod
from ledger.periods.readiness import NotReady, newest_moment, not_ready
from ledger.periods.seen import closing_as_seen
from ledger.posting.turns import turn
from ledger.proof import sealing

log = logging.getLogger(__name__)

LONGEST_STOCK_PERIOD: Final = timedelta(days=35)


class CannotClose(Exception):
    """A closing or a stock period that cannot be: one sentence, and the field it concerns where there is one.

    `ways` are the things in the way, each with the page on which it is settled.
    """

    def __init__(self, sentence: str, *, field: str = "", ways: Iterable[NotReady] = ()) -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.field = field
        self.ways = tuple(ways)


def ask(
    period: str, *, person: Person, remark: str = "", now: datetime | None = None, seen: str | None = None
) -> CloseRequest:
    """One person asks that a period be closed; whoever asked before is no longer waited for.

    `seen` is the digest of what was on the page. Whether it is over the books' clock says; when it was asked, real
    time: `now` stands for both. Raises CannotClose with what is in the way, signed.MovedOn, NoSuchPeriod, Busy.
    """
    _still_open(period)
    if not holds(person, CLOSERS):
        raise CannotClose(f"{person.shown_name} may not close a period; a manager asks for it.", field="person")
    _look_through(period)
    return _ask(period, person=person, remark=remark, now=now, seen=seen)


@retried
def _ask(period: str, *, person: Person, remark: str, now: datetime | None, seen: str | None) -> CloseRequest:
    books, now = now or books_now(), now or timezone.now()
    with turn():
        _still_open(period)
        found = _settled(period, now=books)
        _as_seen(period, seen, now=books)
        remark = remark.strip()
        if found and not remark:
            sentence = f"Say why it is closed all the same: {found[0].sentence}"
            raise CannotClose(sentence, field="remark", ways=found)
        head = Head.objects.get(pk=1)
        return CloseRequest.objects.create(
            period=period, person=person, asked_at=now, last_number=head.last_number, remark=remark
        )


def agree(request: CloseRequest, *, person: Person, now: datetime | None = None, seen: str | None = None) -> Closing:
    """Another person agrees, and the period is closed. `seen` is the digest of what was on the page.

    Raises CannotClose where the request is not the newest, where the books have changed since, or where something
    is in the way; signed.MovedOn, NoSuchPeriod, Busy.
    """
    _may_agree(request, person)
    _look_through(request.period)
    closing = _agree(request, person=person, now=now, seen=seen)
    afterwards(count_tables)
    return closing


@retried
def _agree(request: CloseRequest, *, person: Person, now: datetime | None, seen: str | None) -> Closing:
    books, now = now or books_now(), now or timezone.now()
    with turn():
        _may_agree(request, person)
        written = written_since(request)
        if written:
            entries = "1 entry was" if written == 1 else f"{figures.count(written)} entries were"
            sentence = f"{entries} written into this period after it was asked for; look, and ask again."
            raise CannotClose(sentence, ways=[NotReady(sentence, *_month(request.period))])
        _settled(request.period, now=books)
        _as_seen(request.period, seen, now=books)
        return _close(request, person, now)


def _may_agree(request: CloseRequest, person: Person) -> None:
    _still_open(request.period)
    newest = request_of(request.period)
    if newest is None or newest.pk != request.pk:
        sentence = "It has been asked for again since; look at the page as it stands now, then agree."
        raise CannotClose(sentence, ways=[NotReady(sentence, *_page(request.period))])
    if person.pk == request.person_id:
        raise CannotClose(f"{person.shown_name} asked for it; another person has to agree.", field="person")
    if not may_write(person):
        raise CannotClose(f"{person.shown_name} may not write, so cannot agree to a closing.", field="person")


@retried
def _look_through(period: str) -> None:
    """Compares the whole period and keeps what that finds, whatever becomes of the signature.

    What only a whole month shows, a figure against its kind, has to be asked for once before it closes; periods before
    it that could not be compared are compared as well. Raises CannotClose where figures cannot be compared: a finding
    might be missing then.
    """
    earlier = {one.period for one in standing_failures(until=period)} | behind(until=period)
    for each in (*sorted(earlier - {period}), period):
        try:
            bring_period(each)
        except (DatabaseError, NoSuchPeriod):
            raise
        except Exception as error:
            log.exception("%s could not be compared when the closing of %s was asked for.", each, period)
            with turn():
                note_failure(each, f"the closing of {Calendar.read().name_of(period)} was asked for", error)
            sentence = f"{could_not(Calendar.read().name_of(each), type(error).__name__)} Nothing was closed."
            raise CannotClose(sentence, ways=[NotReady(sentence, *_month(each))]) from error


def _as_seen(period: str, seen: str | None, *, now: datetime) -> None:
    if seen is not None:
        sentence = "Something has changed since this page was made, so nothing was signed; look at it as it stands now."
        signed.refuse_moved(seen, closing_as_seen(period, now=now), sentence)


def _month(period: str) -> tuple[str, str]:
    return reverse("month", kwargs={"period": period}), f"Look at {Calendar.read().name_of(period)}"


def _page(period: str) -> tuple[str, str]:
    return reverse("close_period", kwargs={"period": period}), f"Close {Calendar.read().name_of(period)}"


def written_since(request: CloseRequest) -> int:
    """How many movements were written into the period, or before it, after it was asked for."""
    return Movement.objects.filter(pk__gt=request.last_number, period__lte=request.period).count()


@retried
def enter_stock_period(
    code: str, first_day: date, last_day: date, *, source: str, person: Person, now: datetime | None = None
) -> StockPeriod:
    """Enters a stock period the site was allowed; it follows the one before without a gap. Raises CannotClose, Busy."""
    now = now or timezone.now()
    with turn():
        if not holds(person, CLOSERS | PLANT_KEEPERS):
            raise CannotClose(f"{person.shown_name} may not enter a stock period; ask the manager.", field="person")
        _fits(code, first_day, last_day, source)
        before = StockPeriod.objects.order_by("-first_day").first()
        period = StockPeriod(
            code=code,
            first_day=first_day,
            last_day=last_day,
            source=source.strip(),
            person=person,
            entered_at=now,
            previous_digest=before.digest if before is not None else sealing.FIRST_SEAL,
        )
        line = sealing.canonical(sealed.stock_period_content(period, people={person.pk: person.username}))
        period.digest = sealing.seal(period.previous_digest, line)
        period.save(force_insert=True)
        return period


def _still_open(period: str) -> None:
    closing = Closing.objects.filter(period__gte=period).order_by("number").first()
    if closing is not None:
        sentence = f"{Calendar.read().name_of(period)} is closed already, by closing {closing.number}."
        raise CannotClose(sentence, ways=[NotReady(sentence, *_page(period))])


def _settled(period: str, *, now: datetime) -> list[NotReady]:
    """What only needs a remark. Raises CannotClose for what must be settled first."""
    found = not_ready(period, now=now)
    musts = [one for one in found if one.must]
    if musts:
        more = f" ({len(musts)} things in all)" if len(musts) > 1 else ""
        raise CannotClose(f"{musts[0].sentence}{more}", ways=musts)
    return found


def _close(request: CloseRequest, person: Person, now: datetime) -> Closing:
    before = last_closing()
    head, books = Head.objects.get(pk=1), last_seal()
    begins, ends = Calendar.read().bounds(request.period)
    closing = Closing(
        number=before.number + 1 if before is not None else 1,
        period=request.period,
        begins=begins,
        ends=ends,
        request=request,
        person=person,
        agreed_at=now,
        last_number=head.last_number,
        last_seal=head.last_seal,
        books_seal=books.seal if books is not None else "",
        previous_digest=before.digest if before is not None else sealing.FIRST_SEAL,
    )
    balances = _balances(request.period)
    if sum(pure for _, pure, _ in balances) or sum(mass for _, _, mass in balances):
        raise CannotClose("The accounts do not add up to nothing. Close nothing, and run verify_ledger.")
    ClosingBalance.objects.bulk_create(
        ClosingBalance(closing_id=closing.number, account=account, pure_ul=pure, mass_g=mass)
        for account, pure, mass in balances
    )
    people = {one.pk: one.username for one in (request.person, person)}
    frozen = [(account.code, pure, mass) for account, pure, mass in balances]
    closing.digest = sealed.digest(closing, frozen, people=people)
    closing.save(force_insert=True)
    return closing


def _balances(period: str) -> list[tuple[Account, int, int]]:
    sums = (
        AccountMonth.objects.filter(period__lte=period)
        .values_list("account_id")
        .annotate(pure=Sum("pure_ul"), mass=Sum("mass_g"))
    )
    known = Account.objects.in_bulk()
    return [(known[pk], pure, mass) for pk, pure, mass in sums.order_by("account_id") if pure or mass]


def _fits(code: str, first_day: date, last_day: date, source: str) -> None:
    calendar = Calendar.read()
    spans = calendar.spans
    if not STOCK_PERIOD.fullmatch(code):
        raise CannotClose(f"'{code}' is no code of a stock period; write year and number like 2027-05.", field="code")
    if not source.strip():
        raise CannotClose("Say who allowed it and where that is written.", field="source")
    if last_day < first_day:
        raise CannotClose("The last day comes before the first.", field="last_day")
    if last_day - first_day >= LONGEST_STOCK_PERIOD:
        raise CannotClose("A stock period has at most 35 days, five weeks.", field="last_day")
    if spans and first_day != spans[-1].last_day + timedelta(days=1):
        due = figures.day(spans[-1].last_day + timedelta(days=1), year=True)
        raise CannotClose(f"The next stock period begins on {due}, so that there is no gap.", field="first_day")
    earlier = calendar.period_of(calendar.start_of(first_day - timedelta(days=1)))
    if code <= earlier:
        raise CannotClose(f"The code has to come after {earlier}, the period before it.", field="code")
    newest = newest_moment()
    if newest is not None and newest >= calendar.start_of(first_day):
        raise CannotClose(
            f"Something happened on {figures.moment(newest, year=True)} already; a stock period is entered before "
            "anything of it is written.",
            field="first_day",
        )
