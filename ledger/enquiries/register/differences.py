"""Differences of a period: those that an enquiry is about, with what of each is explained, and the others."""

from __future__ import annotations

from collections import defaultdict

from ledger.enquiries.balance import by_period
from ledger.enquiries.covering import GAUGING_OF, OPERATION, Share, amount_of, found_account, is_whole, shares
from ledger.enquiries.models import Enquiry
from ledger.enquiries.register.counted import counted
from ledger.enquiries.register.lines import DifferenceLine
from ledger.enquiries.standing import Standing
from ledger.models import AccountKind
from ledger.periods.calendar import bounds
from ledger.posting.accounts import GAUGING


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
    _gauge_by_gauge(period, enquiries, about, (left, stages, others))
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
            earlier_ul=earlier.get(one.enquiry.number, 0),
        )
        for one in sorted(enquiries, key=lambda one: (one.enquiry.happened_at, one.enquiry.pk))
        if left[one.enquiry.number] or explained[one.enquiry.number]
    ]
    return lines, [amount for amount in others.values() if amount]


def _gauge_by_gauge(
    period: str,
    enquiries: list[Standing],
    about: dict[tuple[str, str, str], Standing],
    sums: tuple[dict[str, int], dict[str, str], dict[tuple[str, str, str], int]],
) -> None:
    """Parts the gauges of one vessel in one record, which have one account together, by the enquiries about them."""
    left, stages, others = sums
    for one in enquiries:
        enquiry = one.enquiry
        if is_whole(enquiry) or not enquiry.operation.startswith(GAUGING_OF):
            continue
        place = _place(enquiry)
        number = about[place].enquiry.number
        # What no enquiry is about stands with the others, so that all of it together stays what the account says.
        others[place] += left.pop(number, 0) if one is about[place] else 0
        stages[enquiry.number] = stages.get(number, "")
    for one in enquiries:
        enquiry = one.enquiry
        if not is_whole(enquiry) and enquiry.operation.startswith(GAUGING_OF):
            left[enquiry.number] = dict(by_period(enquiry)).get(period, 0)
            others[_place(enquiry)] -= left[enquiry.number]


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


def _earlier(period: str, enquiries: list[Enquiry]) -> dict[str, int]:
    """What the accounts of earlier periods bear of what these enquiries are about, by their numbers."""
    starts = bounds(period)[0]
    late = [one for one in enquiries if one.happened_at < starts and not is_whole(one)]
    return {one.number: sum(amount for borne, amount in by_period(one) if borne < period) for one in late}


def _place(enquiry: Enquiry) -> tuple[str, str, str]:
    return enquiry.record_kind, enquiry.record_number, found_account(enquiry)
