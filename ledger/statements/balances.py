"""All reading of the ledger: balances, a vessel's account, what every vessel holds at a moment.

Nothing here adds history up: balances are kept as legs arrive, and a page of an account starts from the
running balance of the entry before it. The number of queries does not depend on how much was posted.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db.models import BooleanField, Case, OuterRef, QuerySet, Subquery, Sum, When

from distillery.alcoholometry.contents import litres_and_percent_of
from distillery.plant.lookup import FIXED
from distillery.plant.models import Vessel
from ledger.models import Account, AccountKind, AccountMonth, Entry, Gauge, Leg, RunningBalance
from ledger.posting.accounts import OPENING_STOCK


@dataclass(frozen=True, slots=True)
class Holding:
    """What one account's book holds at a moment."""

    account: Account
    pure_ul: int
    mass_g: int
    litres20: float | None
    percent20: float | None
    last_gauge: Gauge | None


def opening_moments(vessels: Collection[int]) -> dict[str, datetime]:
    """When the books of vessels begin, by code: the gauge of their opening stock that stands. Others are left out."""
    if not vessels:
        return {}
    # From the earliest gauge on, which is nearly always that of the opening stock: the gauges of years are passed by.
    opening = (
        Gauge.objects.standing()
        .filter(movement__operation=OPENING_STOCK, account=OuterRef("pk"))
        .order_by("happened_at", "position")
        .values("happened_at")[:1]
    )
    accounts = Account.objects.filter(vessel__in=vessels).annotate(begins=Subquery(opening))
    return {code: at for code, at in accounts.values_list("vessel__code", "begins") if at is not None}


def holdings(accounts: QuerySet[Account] | None = None, *, before: datetime | None = None) -> list[Holding]:
    """What accounts hold, now or just before a moment: two queries, or three of a moment, however long the history."""
    chosen = accounts if accounts is not None else Account.objects.filter(kind__in=(AccountKind.VESSEL,))
    rows = list(chosen.select_related("vessel", "vessel__cask", *(("balance",) if before is None else ())))
    if before is None:
        books = {row.pk: (row.balance.balance_ul, row.balance.mass_g) for row in rows if hasattr(row, "balance")}
    else:
        last = (
            RunningBalance.objects.filter(account=OuterRef("pk"), happened_at__lt=before)
            .order_by("-happened_at", "-position", "-leg_id")
            .values("pk")[:1]
        )
        ids = Account.objects.filter(pk__in=[row.pk for row in rows]).annotate(last=Subquery(last)).values("last")
        held = RunningBalance.objects.filter(pk__in=ids).values_list("account_id", "balance_ul", "mass_g")
        books = {pk: (pure, mass) for pk, pure, mass in held}
    gauges = last_gauges([row.pk for row in rows], before=before)
    result = []
    for row in rows:
        pure, mass = books.get(row.pk, (0, 0))
        # A book below nothing, until the next gauge, has no bulk and no strength.
        state = litres_and_percent_of(pure_ul=pure, mass_g=mass) if pure >= 0 and mass >= 0 else None
        result.append(
            Holding(
                account=row,
                pure_ul=pure,
                mass_g=mass,
                litres20=0.0 if pure == 0 else (state[0] if state else None),
                percent20=state[1] if state else None,
                last_gauge=gauges.get(row.pk),
            )
        )
    return result


def book_before(account: Account, moment: datetime) -> int:
    """What the book of an account held just before a moment, microlitres."""
    before = RunningBalance.objects.filter(account=account, happened_at__lt=moment)
    held = before.order_by("-happened_at", "-position", "-leg_id").values_list("balance_ul", flat=True).first()
    return held or 0


def books_before(accounts: QuerySet[Account], moment: datetime) -> dict[int, int]:
    """What the books of these accounts held just before a moment, microlitres, by their keys. One query."""
    last = (
        RunningBalance.objects.filter(account=OuterRef("pk"), happened_at__lt=moment)
        .order_by("-happened_at", "-position", "-leg_id")
        .values("balance_ul")[:1]
    )
    held = accounts.order_by().annotate(held=Subquery(last)).values_list("pk", "held")
    return {pk: pure_ul or 0 for pk, pure_ul in held}


def last_gauges(account_ids: Iterable[int], *, before: datetime | None = None) -> dict[int, Gauge]:
    """The newest standing gauge of each account."""
    standing = Gauge.objects.standing().filter(account=OuterRef("pk"))
    if before is not None:
        standing = standing.filter(happened_at__lt=before)
    newest = standing.order_by("-happened_at", "-position").values("pk")[:1]
    ids = Account.objects.filter(pk__in=list(account_ids)).annotate(newest=Subquery(newest)).values("newest")
    return {gauge.account.pk: gauge for gauge in Gauge.objects.filter(pk__in=ids).select_related("account")}


def vessel_holdings(*, before: datetime | None = None) -> list[Holding]:
    """Every vessel but the casks, in the plant's order."""
    return holdings(
        # The few dozen vessels are asked for first, and their accounts by them; a site may have any number of casks.
        Account.objects.filter(vessel__in=Vessel.objects.filter(kind__in=FIXED).order_by().values("pk")).order_by(
            "vessel__order", "vessel__code"
        ),
        before=before,
    )


def entries_of(account: Account, since: datetime, until: datetime) -> QuerySet[RunningBalance]:
    """The entries of an account between two moments, each with what the account held after it."""
    return RunningBalance.objects.filter(account=account, happened_at__gte=since, happened_at__lt=until).select_related(
        "leg__movement__person", "leg__other"
    )


def account_totals(account: Account, period: str) -> dict[str, int]:
    """In, out, known losses and differences of an account in a month, added up in one query."""
    totals: dict[str, int] = {"in": 0, "out": 0, "loss": 0, "difference": 0}
    sums = (
        Leg.objects.filter(account=account, period=period)
        .annotate(
            came=Case(When(pure_ul__gt=0, then=True), default=False, output_field=BooleanField()),
            reversing=Case(
                When(movement__corrects__isnull=False, then=True), default=False, output_field=BooleanField()
            ),
        )
        .values_list("entry", "came", "reversing")
        .annotate(Sum("pure_ul"))
    )
    for entry, came, reversing, pure_ul in sums:
        if entry in (Entry.GAUGING, Entry.DIFFERENCE):
            totals["difference"] -= pure_ul
        elif entry == Entry.LOSS:
            totals["loss"] -= pure_ul
        elif came != reversing:
            totals["in"] += pure_ul
        else:
            totals["out"] -= pure_ul
    return totals


def opening_of(account: Account, period: str) -> int:
    """Pure alcohol in the account when a month began, microlitres, from the nets of the months before."""
    months = AccountMonth.objects.filter(account=account, period__lt=period)
    return int(months.aggregate(net=Sum("pure_ul"))["net"] or 0)
