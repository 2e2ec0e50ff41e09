"""What of an enquiry's difference still lies in the accounts of differences, and what has been explained of it.

A record's operation leaves its difference in `difference:<operation>`; what a gauge found is in the vessel's own
`difference:gauging:<vessel>`, and what a count of bottled stock found in that of the stock. Read from the legs that
stand, so that a correction shows at once. Microlitres.

An enquiry about a gauge is about that one alone, also where its record gauged the vessel more than once.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from django.db.models import QuerySet, Sum

from ledger.enquiries.covering import (
    GAUGING_OF,
    OPERATION,
    amount_of,
    explained_of,
    found_account,
    is_whole,
    shares,
)
from ledger.enquiries.models import Enquiry
from ledger.models import AccountKind, Gauge, Leg, Movement, MovementKind, StandingLegs
from ledger.models.measurements import Measurements
from ledger.posting.accounts import GAUGING, VESSEL_ACCOUNT, gauging_of
from ledger.statements.unaccounted_legs import (
    explained_at,
    found_by,
    gauge_key,
    legs_found_at,
    legs_of_explanations,
)

__all__ = ["GAUGING", "GAUGING_OF", "OPERATION", "Open", "Part", "by_period", "open_of", "standing_explanations"]


@dataclass(frozen=True, slots=True)
class Part:
    """What one account of differences holds of it, borne by one stage."""

    account: str
    name: str
    stage: str
    pure_ul: int


@dataclass(frozen=True, slots=True)
class Open:
    """Difference left by the record, explained so far, and still open. Missing is positive."""

    left_ul: int
    explained_ul: int
    parts: tuple[Part, ...]

    @property
    def open_ul(self) -> int:
        return self.left_ul - self.explained_ul


def open_of(enquiry: Enquiry) -> Open:
    """The difference an enquiry is about, as the books have it now; of what lasts, as it was last written down."""
    if is_whole(enquiry):
        return _of_the_whole(enquiry)
    if enquiry.operation.startswith(GAUGING_OF):
        left, explained = _of_gauge(enquiry)
    else:
        legs = _of_record(enquiry).standing()
        left = _sums(legs.filter(movement__kind__in=(MovementKind.OPERATION, MovementKind.RESTATEMENT)))
        explained = _sums(legs.filter(movement__kind=MovementKind.EXPLANATION))
    codes = {(part.account, part.stage) for part in (*left, *explained)}
    names = {part.account: part.name for part in (*left, *explained)}
    sums = {(part.account, part.stage): part.pure_ul for part in left}
    taken = {(part.account, part.stage): part.pure_ul for part in explained}
    parts = [
        Part(account, names[account], stage, sums.get((account, stage), 0) + taken.get((account, stage), 0))
        for account, stage in sorted(codes)
    ]
    return Open(
        left_ul=sum(part.pure_ul for part in left),
        explained_ul=-sum(part.pure_ul for part in explained),
        parts=tuple(part for part in parts if part.pure_ul),
    )


def _of_the_whole(enquiry: Enquiry) -> Open:
    amount_ul, explained_ul = amount_of(enquiry), explained_of(enquiry)
    sums: dict[tuple[str, str, str], int] = defaultdict(int)
    for one in shares(enquiry, amount_ul - explained_ul):
        sums[one.account, one.name, one.stage] += one.pure_ul
    return Open(amount_ul, explained_ul, tuple(Part(*place, pure_ul) for place, pure_ul in sorted(sums.items())))


def by_period(enquiry: Enquiry) -> list[tuple[str, int]]:
    """The difference of its record as each period's account bears it, corrections counted where the books carry them.

    Explanations are left out. More than one period where something crossed a close; together they are what is left.
    """
    if enquiry.operation.startswith(GAUGING_OF):
        rows = legs_found_at(gauges_about(enquiry)).values_list("period").annotate(total=-Sum("pure_ul"))
    else:
        legs = _of_record(enquiry).exclude(movement__operation=OPERATION)
        rows = legs.values_list("period").annotate(total=Sum("pure_ul"))
    return [(period, total) for period, total in rows.order_by("period") if total]


def standing_explanations(enquiry: Enquiry) -> QuerySet[Movement]:
    """What was posted to explain it and has not been taken back, first to last."""
    # The operation is named too: it leads to the few explanations there are by an index.
    explanations = Movement.objects.standing().filter(operation=OPERATION, kind=MovementKind.EXPLANATION)
    return explanations.filter(moment=enquiry.number).order_by("pk")


def gauges_about(enquiry: Enquiry) -> Measurements[Gauge]:
    """The gauge an enquiry about a gauge is about, with the versions of it that a correction took back."""
    vessel = enquiry.operation.removeprefix(GAUGING_OF)
    there = Gauge.objects.filter(
        account__code=f"{VESSEL_ACCOUNT}{vessel}", movement__record_number=enquiry.record_number
    ).select_related("account", "movement")
    named = enquiry.key.partition(":")[2]
    about = Gauge.objects.get_queryset().filter(pk__in=[one.pk for one in there if gauge_key(one) == named])
    return about.select_related("account", "movement")


def _of_gauge(enquiry: Enquiry) -> tuple[list[Part], list[Part]]:
    """What the gauge left, as a difference, and what of it was explained."""
    vessel = enquiry.operation.removeprefix(GAUGING_OF)
    named = enquiry.key.partition(":")[2]
    there = list(
        Gauge.objects.standing()
        .filter(account__code=f"{VESSEL_ACCOUNT}{vessel}", movement__record_number=enquiry.record_number)
        .select_related("account", "movement")
    )
    found = found_by(there, Movement.objects.filter(pk__in=[gauge.movement_id for gauge in there]))
    about_it = legs_of_explanations().filter(movement__record_number=enquiry.record_number)
    taken = explained_at(there, found, about_it)
    left = []
    explained: dict[tuple[str, str, str], int] = defaultdict(int)
    for gauge in (one for one in there if gauge_key(one) == named):
        account = gauging_of(gauge.account)
        left.append(Part(account.code, account.name, gauge.account.stage, -found[gauge.pk]))
        for leg in taken[gauge.pk]:
            explained[leg.account.code, leg.account.name, leg.stage] += leg.pure_ul
    return [part for part in left if part.pure_ul], [Part(*place, pure_ul) for place, pure_ul in explained.items()]


def _of_record(enquiry: Enquiry) -> StandingLegs:
    """The legs on the accounts of differences of its record's operation, or on that of the stock its record counted,
    explanations among them."""
    legs = Leg.objects.filter(
        account__kind=AccountKind.DIFFERENCE,
        movement__record_kind=enquiry.record_kind,
        movement__record_number=enquiry.record_number,
    )
    counted = found_account(enquiry)
    return legs.filter(account__code=counted) if counted else legs.exclude(account__code__startswith=GAUGING)


def _sums(legs: QuerySet[Leg]) -> list[Part]:
    rows = legs.values_list("account__code", "account__name", "stage").annotate(total=Sum("pure_ul")).order_by()
    return [Part(code, name, stage, total) for code, name, stage, total in rows if total]
