"""Proves the closings: their chain, what each froze, and that nothing was written into a closed period after it.

What is frozen is compared with the sums kept by month, which the proof of the ledger compares with the legs.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import timedelta
from itertools import pairwise

from django.db.models import Max, Min, Sum

from distillery.database.rows_as_kept import rows_of
from distillery.people.models import Person
from ledger.models import Account, AccountMonth, Movement
from ledger.periods import sealed
from ledger.periods.calendar import Calendar, NoSuchPeriod
from ledger.periods.models import Closing, ClosingBalance, StockPeriod
from ledger.posting.accounts import OPENING_STOCK
from ledger.proof import sealing

# By the key of an account: pure alcohol in microlitres, mass in grams.
Frozen = Mapping[int, tuple[int, int]]


def prove_periods() -> Iterator[str]:
    """One sentence for each place that does not hold, none while there is neither closing nor stock period."""
    yield from _stock_periods()
    closings = list(Closing.objects.select_related("request").order_by("number"))
    if closings:
        yield from _chain(closings)
        yield from _written_into(closings)
    yield from _carried(closings)


def digest_holds(closing: Closing) -> bool:
    """True where what a closing says and froze gives its digest."""
    people = {one.pk: one.username for one in (closing.request.person, closing.person)}
    rows = ClosingBalance.objects.filter(closing=closing).values_list("account__code", "pure_ul", "mass_g")
    return sealed.digest(closing, rows, people=people) == closing.digest


def place_of(closing: Closing) -> str:
    """How a sentence names a closing."""
    return f"closing {closing.number} of {closing.period}"


def _chain(closings: list[Closing]) -> Iterator[str]:
    people = dict(Person.objects.values_list("pk", "username"))
    codes = dict(Account.objects.values_list("pk", "code"))
    sealed_codes, months = sealed.Codes(codes), _Months()
    calendar = Calendar.read()
    seals = dict(Movement.objects.filter(pk__in=[one.last_number for one in closings]).values_list("pk", "seal"))
    previous, expected = sealing.FIRST_SEAL, 1
    for closing in closings:
        place = place_of(closing)
        if closing.number != expected:
            yield f"{place}: number {expected} is missing"
            expected = closing.number
        if closing.previous_digest != previous:
            yield f"{place}: it does not follow the digest of the closing before it"
        if closing.last_number and seals.get(closing.last_number) != closing.last_seal:
            yield f"{place}: movement {closing.last_number} does not bear the seal it names"
        if closing.person_id == closing.request.person_id or closing.period != closing.request.period:
            yield f"{place}: it was not asked for by one and agreed to by another"
        try:
            if calendar.bounds(closing.period) != (closing.begins, closing.ends):
                yield f"{place}: it does not begin and end with its period"
        except NoSuchPeriod as unknown:
            yield f"{place}: {unknown}"
        frozen, once = _frozen(closing)
        try:
            if not once or sealed_codes.digest(closing, frozen, people=people) != closing.digest:
                yield f"{place}: its content does not give its digest"
        except KeyError as missing:
            yield f"{place}: it names what is not there ({missing})"
        except (ValueError, TypeError):
            yield f"{place}: its content does not give its digest"
        yield from _said_apart(closing, frozen, months.upto(closing.period), codes)
        previous = closing.digest
        expected += 1


def frozen_apart() -> Iterator[str]:
    """Balances that are not what the account's months up to the closing add up to."""
    codes = dict(Account.objects.values_list("pk", "code"))
    months = _Months()
    for closing in Closing.objects.order_by("period"):
        yield from _said_apart(closing, _frozen(closing)[0], months.upto(closing.period), codes)


def _frozen(closing: Closing) -> tuple[Frozen, bool]:
    """What a closing froze by the key of the account, µL and g, and whether each account is there once."""
    columns = ("account_id", "pure_ul", "mass_g")
    rows = list(rows_of(ClosingBalance.objects.filter(closing=closing), *columns))
    frozen = {account: (pure, mass) for account, pure, mass in rows}
    return frozen, len(frozen) == len(rows)


def _said_apart(closing: Closing, frozen: Frozen, sums: Frozen, codes: Mapping[int, str]) -> Iterator[str]:
    if frozen == sums:
        return
    for account in sorted(frozen.keys() | sums.keys()):
        if frozen.get(account, (0, 0)) != sums.get(account, (0, 0)):
            yield f"{place_of(closing)}: {codes.get(account, account)} is frozen at what its legs do not add up to"


class _Months:
    """The months of all accounts added up, period after period: one closing goes on from where another ended."""

    def __init__(self) -> None:
        self._begin()

    def _begin(self) -> None:
        nets = AccountMonth.objects.values_list("period", "account_id").annotate(Sum("pure_ul"), Sum("mass_g"))
        self._months = nets.order_by("period", "account_id").iterator(2000)
        self._next = next(self._months, None)
        self._reached = ""
        self._sums: dict[int, tuple[int, int]] = {}

    def upto(self, period: str) -> Frozen:
        """What each account held at the end of a period, µL and g; those that held nothing are left out."""
        if period < self._reached:
            self._begin()
        self._reached = period
        while self._next is not None and self._next[0] <= period:
            _, account, more_pure, more_mass = self._next
            pure, mass = self._sums.pop(account, (0, 0))
            if pure + more_pure or mass + more_mass:
                self._sums[account] = (pure + more_pure, mass + more_mass)
            self._next = next(self._months, None)
        return self._sums


def _written_into(closings: list[Closing]) -> Iterator[str]:
    """Movements of a closed period that are younger than its closing, or that happened before its end."""
    periods = list(Movement.objects.values_list("period").annotate(Max("id"), Min("happened_at")).order_by("period"))
    for closing in closings:
        for period, newest, earliest in periods:
            if period <= closing.period and newest > closing.last_number:
                yield f"{place_of(closing)}: movement {newest} was written into {period} after it was closed"
            if period > closing.period and earliest < closing.ends:
                yield f"{place_of(closing)}: a movement of {period} happened before the closed period ended"


def _carried(closings: list[Closing]) -> Iterator[str]:
    """What is carried later than it happened stands at the end of a closing."""
    ends = {closing.ends for closing in closings}
    rows = Movement.objects.filter(true_at__isnull=False)
    for number, happened_at, true_at in rows.values_list("pk", "happened_at", "true_at").order_by("pk").iterator(2000):
        if happened_at not in ends or true_at is None or true_at >= happened_at:
            yield f"movement {number} is carried at a moment that is not the end of a closed period"


def _stock_periods() -> Iterator[str]:
    periods = list(StockPeriod.objects.order_by("first_day"))
    people = dict(Person.objects.values_list("pk", "username")) if periods else {}
    previous = sealing.FIRST_SEAL
    for period in periods:
        line = sealing.canonical(sealed.stock_period_content(period, people=people))
        if period.previous_digest != previous or sealing.seal(previous, line) != period.digest:
            yield f"stock period {period.code}: its content does not give its digest"
        previous = period.digest
    for one, following in pairwise(periods):
        if following.first_day != one.last_day + timedelta(days=1):
            yield f"stock period {following.code} does not begin where {one.code} ends"
    if not periods:
        return
    calendar = Calendar.read()
    rows = (
        Movement.objects.filter(period__in=[one.code for one in periods])
        .exclude(operation=OPENING_STOCK)
        .values_list("period")
        .annotate(Min("happened_at"), Max("happened_at"))
    )
    for code, earliest, latest in rows.order_by("period"):
        begins, ends = calendar.bounds(code)
        if earliest < begins or latest >= ends:
            yield f"stock period {code} holds a movement that did not happen in it"
