"""What of an enquiry's difference still lies in the accounts of differences, and what has been explained of it.

A record's operation leaves its difference in `difference:<operation>`; what a gauge found is in the vessel's own
`difference:gauging:<vessel>`. Read from the legs that stand, so that a correction shows at once. Microlitres.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from django.db.models import QuerySet, Sum

from ledger.enquiries.covering import GAUGING, GAUGING_OF, OPERATION, amount_of, explained_of, is_whole, shares
from ledger.enquiries.models import Enquiry
from ledger.models import AccountKind, Leg, Movement, MovementKind, StandingLegs

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
    legs = _legs_about(enquiry)
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
    legs = _of_record(enquiry).exclude(movement__operation=OPERATION)
    rows = legs.values_list("period").annotate(total=Sum("pure_ul")).order_by("period")
    return [(period, total) for period, total in rows if total]


def standing_explanations(enquiry: Enquiry) -> QuerySet[Movement]:
    """What was posted to explain it and has not been taken back, first to last."""
    return Movement.objects.standing().filter(kind=MovementKind.EXPLANATION, moment=enquiry.number).order_by("pk")


def _legs_about(enquiry: Enquiry) -> QuerySet[Leg]:
    """What stands on accounts of differences under its record, explanations of other enquiries about it among them."""
    return _of_record(enquiry).standing()


def _of_record(enquiry: Enquiry) -> StandingLegs:
    legs = Leg.objects.filter(
        account__kind=AccountKind.DIFFERENCE,
        movement__record_kind=enquiry.record_kind,
        movement__record_number=enquiry.record_number,
    )
    if enquiry.operation.startswith(GAUGING_OF):
        return legs.filter(account__code=f"{GAUGING}{enquiry.operation.removeprefix(GAUGING_OF)}")
    return legs.exclude(account__code__startswith=GAUGING)


def _sums(legs: QuerySet[Leg]) -> list[Part]:
    rows = legs.values_list("account__code", "account__name", "stage").annotate(total=Sum("pure_ul")).order_by()
    return [Part(code, name, stage, total) for code, name, stage, total in rows if total]
