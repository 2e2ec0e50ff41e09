"""Differences of a period: those that an enquiry is about, with what of each is explained, and the others."""

from __future__ import annotations

from collections import defaultdict

from django.db.models import Sum

from ledger.enquiries.covering import GAUGING, GAUGING_OF, OPERATION, Share, amount_of, is_whole, shares
from ledger.enquiries.models import Enquiry
from ledger.enquiries.register.counted import counted
from ledger.enquiries.register.lines import DifferenceLine
from ledger.enquiries.standing import Standing
from ledger.models import AccountKind, Leg
from ledger.periods.calendar import bounds


def differences_of(period: str, enquiries: list[Standing]) -> tuple[list[DifferenceLine], list[int]]:
    """Differences that an enquiry is about, and the amounts of all the others."""
    place = {one.enquiry.number: one for one in enquiries}
    earlier = _earlier(period, [one.enquiry for one in enquiries])
    # One record may have a difference of its own and one of a vessel's gauge, each with an enquiry.
    about = {_place(one.enquiry): one for one in reversed(enquiries) if not is_whole(one.enquiry)}
    left: dict[str, int] = defaultdict(int)
    explained: dict[str, int] = defaultdict(int)
    stages: dict[str, str] = {}
    others: dict[tuple[str, str, str], int] = defaultdict(int)
    for leg in counted(period, AccountKind.DIFFERENCE):
        movement = leg.movement
        if movement.operation == OPERATION and movement.moment in place:
            explained[movement.moment] -= leg.pure_ul
            continue
        gauging = leg.account.code if leg.account.code.startswith(GAUGING) else ""
        standing = about.get((movement.record_kind, movement.record_number, gauging))
        if standing is None:
            others[movement.record_kind, movement.record_number, leg.account.code] += leg.pure_ul
        else:
            left[standing.enquiry.number] += leg.pure_ul
            stages[standing.enquiry.number] = leg.stage
    for one in enquiries:
        if is_whole(one.enquiry):
            # What lasts is in the differences of its runs: its shares stand here, and the rest where it stood.
            for share in shares(one.enquiry, amount_of(one.enquiry), as_found=True):
                if share.run.period == period:
                    _take_out(share, about, left, others)
                    left[one.enquiry.number] += share.pure_ul
                    stages[one.enquiry.number] = share.stage
    lines = [
        DifferenceLine(
            at=one.enquiry.happened_at,
            record_kind=one.enquiry.record_kind,
            record=one.enquiry.record_number,
            operation=one.enquiry.operation,
            stage=stages.get(one.enquiry.number, ""),
            left_ul=left[one.enquiry.number],
            explained_ul=explained[one.enquiry.number],
            standing=one,
            earlier_ul=earlier.get(_place(one.enquiry), 0),
        )
        for one in sorted(enquiries, key=lambda one: (one.enquiry.happened_at, one.enquiry.pk))
        if left[one.enquiry.number] or explained[one.enquiry.number]
    ]
    return lines, [amount for amount in others.values() if amount]


def _take_out(
    share: Share,
    about: dict[tuple[str, str, str], Standing],
    left: dict[str, int],
    others: dict[tuple[str, str, str], int],
) -> None:
    kind, number = share.run.record_kind, share.run.record_number
    own = about.get((kind, number, share.account if share.account.startswith(GAUGING) else ""))
    if own is None:
        others[kind, number, share.account] -= share.pure_ul
    else:
        left[own.enquiry.number] -= share.pure_ul


def _earlier(period: str, enquiries: list[Enquiry]) -> dict[tuple[str, str, str], int]:
    """What the accounts of earlier periods bear of the records that these enquiries are about."""
    starts = bounds(period)[0]
    late = {one.record_number for one in enquiries if one.happened_at < starts}
    if not late:
        return {}
    found: dict[tuple[str, str, str], int] = defaultdict(int)
    legs = (
        Leg.objects.filter(period__lt=period, account__kind=AccountKind.DIFFERENCE, movement__record_number__in=late)
        .exclude(movement__operation=OPERATION)
        .values_list("movement__record_kind", "movement__record_number", "account__code")
        .annotate(total=Sum("pure_ul"))
        .order_by()
    )
    for kind, record, code, total in legs:
        found[kind, record, code if code.startswith(GAUGING) else ""] += total
    return found


def _place(enquiry: Enquiry) -> tuple[str, str, str]:
    return enquiry.record_kind, enquiry.record_number, _account_of(enquiry)


def _account_of(enquiry: Enquiry) -> str:
    if enquiry.operation.startswith(GAUGING_OF):
        return f"{GAUGING}{enquiry.operation.removeprefix(GAUGING_OF)}"
    return ""
