"""What a step has to know from the ledger before it posts: books as they stood, without the record itself.

A record that is posted anew must not meet its own earlier figures, so each question leaves out the entries of
one record number. Pure alcohol in microlitres, mass in grams.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from django.db.models import QuerySet, Sum

from distillery import figures
from distillery.clock.reading import site_day
from distillery.plant.models import Vessel
from distillery.rules.cask_loss import years_between
from distillery.rules.in_force import cask_band
from ledger.models import AccountKind, Entry, Gauge, Leg
from ledger.periods.places import TRUE_AT, TRUE_POSITION
from ledger.posting.accounts import AccountRef, vessel_account
from ledger.posting.drafts import Book
from ledger.posting.post import book_before

LONG_AGO = datetime(1, 1, 2, tzinfo=UTC)
# The least by which one moment of the books comes after another.
SHORTEST = timedelta(microseconds=1)


def book_without(account: AccountRef, at: datetime, number: str) -> Book:
    """The book of an account at a moment, the entries of one record left out."""
    book = book_before(account, at)
    if not number:
        return book
    own = (
        Leg.objects.filter(account__code=account.code, movement__record_number=number)
        .annotate(true_at=TRUE_AT)
        .filter(true_at__lte=at)
        .aggregate(pure=Sum("pure_ul"), mass=Sum("mass_g"))
    )
    return Book(book.pure_ul - (own["pure"] or 0), book.mass_g - (own["mass"] or 0))


def least_without(account: AccountRef, at: datetime, number: str) -> int:
    """The least pure alcohol an account holds from a moment on, the entries of one record left out.

    An entry written late must not take what a later one has already drawn.
    """
    book = least = book_without(account, at, number).pure_ul
    later = (
        Leg.objects.filter(account__code=account.code, happened_at__gt=at)
        .exclude(movement__record_number=number)
        .annotate(true_at=TRUE_AT, true_position=TRUE_POSITION)
        .filter(true_at__gt=at)
        .order_by("true_at", "true_position", "pk")
    )
    for pure_ul in later.values_list("pure_ul", flat=True):
        book += pure_ul
        least = min(least, book)
    return least


def standing_legs(account: AccountRef, at: datetime, *, since: datetime = LONG_AGO) -> QuerySet[Leg]:
    """Entries of an account up to a moment that have not been corrected away, in the order they happened."""
    return (
        Leg.objects.standing()
        .filter(account__code=account.code)
        .annotate(true_at=TRUE_AT, true_position=TRUE_POSITION)
        .filter(true_at__gte=since, true_at__lte=at)
        .order_by("true_at", "true_position", "id")
    )


def has_entries(account: AccountRef, at: datetime, number: str) -> bool:
    """True where an account has standing entries of other records up to a moment."""
    return standing_legs(account, at).exclude(movement__record_number=number).exists()


def full_already(cask: Vessel, at: datetime, number: str) -> str:
    """A sentence where a cask holds something at a moment, or nothing."""
    account = vessel_account(cask)
    held = book_without(account, at, number).pure_ul
    if held <= 0:
        return ""
    filling = (
        standing_legs(account, at)
        .filter(entry=Entry.FLOW, pure_ul__gt=0)
        .exclude(other__kind=AccountKind.REMOVAL)
        .exclude(movement__record_number=number)
        .select_related("movement")
        .last()
    )
    since = ""
    if filling is not None:
        since = f" since {figures.moment(filling.movement.took_place_at)} ({filling.movement.record_number})"
    return (
        f"Cask {cask.code} is full already: its book holds {figures.lpa(held)} litres of pure alcohol{since}. Choose "
        "another cask, or write first where that spirit went."
    )


def filling_of(cask: Vessel, at: datetime) -> Leg | None:
    """The entry by which a cask was last filled at a moment, with its movement; None where it never was.

    A sample that was put back fills no cask.
    """
    standing = standing_legs(vessel_account(cask), at).filter(entry=Entry.FLOW, pure_ul__gt=0)
    standing = standing.exclude(other__kind=AccountKind.REMOVAL)
    return standing.select_related("movement").last()


def standing_gauges(cask: Vessel, since: datetime, before: datetime, *, without: str) -> list[tuple[datetime, int]]:
    """When a vessel was gauged between two moments, both left out, and the microlitres of pure alcohol it held then."""
    found = Gauge.objects.standing().filter(
        account__code=vessel_account(cask).code, happened_at__gt=since, happened_at__lt=before
    )
    in_order = found.exclude(movement__record_number=without).order_by("happened_at", "position")
    return list(in_order.values_list("happened_at", "pure_ul"))


@dataclass(frozen=True, slots=True)
class Expected:
    """What a cask should hold by now: the least, the most likely and the most, pure alcohol in microlitres, and what it
    held when it was last measured, and when.
    """

    least_ul: int
    middle_ul: int
    most_ul: int
    held_ul: int
    since: datetime


def expected_contents(cask: Vessel, at: datetime, *, without: str) -> Expected | None:
    """What a cask should hold at a moment, by what was last measured in it and the band in force for its kind.

    Counted from its last gauge, or from its filling where it was not gauged since: what was missing or over at that
    gauge was judged there and is not judged twice. A loss booked since then counts towards what was expected. The band
    is the one in force on the day that is asked about, and years count to the second, here as wherever a band is asked
    for: a gauge is judged by what was known when it was taken, and whole days would make a band with steps in it.
    None for a cask that was never filled. Raises NoRuleInForce where the site has no band.
    """
    account = vessel_account(cask)
    start = _last_measured(account, cask, at, without)
    if start is None:
        return None
    since, held_ul = start
    band = cask_band(cask.cask.warehouse, cask.cask.kind, site_day(at))
    left = band.yearly.left_after(years_between(since, at))
    drawn = (
        standing_legs(account, at, since=since + SHORTEST)
        .exclude(movement__record_number=without)
        .exclude(entry=Entry.LOSS)
        .aggregate(pure=Sum("pure_ul"))["pure"]
        or 0
    )
    least, middle, most = (round(held_ul * share) + drawn for share in (left.least, left.middle, left.most))
    return Expected(least, middle, most, held_ul, since)


def _last_measured(account: AccountRef, cask: Vessel, at: datetime, without: str) -> tuple[datetime, int] | None:
    """When a cask was last gauged or filled before a moment, and what it held then."""
    gauge = (
        Gauge.objects.standing()
        .filter(account__code=account.code, happened_at__lt=at)
        .exclude(movement__record_number=without)
        .order_by("happened_at", "position")
        .last()
    )
    filling = filling_of(cask, at)
    if gauge is not None and (filling is None or gauge.happened_at > filling.movement.took_place_at):
        return gauge.happened_at, gauge.pure_ul
    return None if filling is None else (filling.movement.took_place_at, filling.pure_ul)
