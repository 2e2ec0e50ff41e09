"""An enquiry about what lasts: the runs it covers, how much it is about, and each run's share of it.

A watch adds up what every run loses beyond its usual loss, so it is answered as a whole. What is explained of it is
taken out of the runs' own differences, each by its share: in proportion to what went in, and never more than the run's
difference still holds, so that no explanation turns a loss into a gain. So every stage and every month foots as if each
run had been answered by itself. Microlitres of pure alcohol; missing is positive.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from django.db.models import Max

from ledger.enquiries.models import Enquiry, EnquiryEvent, EnquiryRun, What
from ledger.models import AccountKind, Leg
from ledger.posting.accounts import GAUGING
from ledger.statements.counted_stock import difference_account_of

LASTING: Final = "watch"
# An explanation is an entry of the record whose difference it takes; its moment is the number of the enquiry.
OPERATION: Final = "explanation"
GAUGING_OF: Final = "gauging of "


@dataclass(frozen=True, slots=True)
class Share:
    """A run's part of an amount: the account and stage it stands on, and how much of it there is."""

    run: EnquiryRun
    account: str
    name: str
    stage: str
    pure_ul: int


def is_whole(enquiry: Enquiry) -> bool:
    """True for an enquiry about what lasts over several runs."""
    return enquiry.kind == LASTING


def found_account(enquiry: Enquiry) -> str:
    """Code of the account on which stands what the gauge or the count it is about found; blank where an operation's own
    difference is what it is about.
    """
    if enquiry.operation.startswith(GAUGING_OF):
        return f"{GAUGING}{enquiry.operation.removeprefix(GAUGING_OF)}"
    return difference_account_of(enquiry.key)


def covered(enquiry: Enquiry) -> list[EnquiryRun]:
    """The runs it covers as they were last written down, in order of time."""
    last = enquiry.runs.aggregate(last=Max("serial"))["last"]
    return list(enquiry.runs.filter(serial=last).order_by("happened_at", "pk")) if last else []


def amount_of(enquiry: Enquiry) -> int:
    """How much it is about, as it was last written down, explanations of it counted in."""
    event = EnquiryEvent.objects.filter(enquiry=enquiry, what=What.COVERS).order_by("-serial").first()
    return event.pure_ul if event is not None else enquiry.difference_ul


def explained_of(enquiry: Enquiry) -> int:
    """What stands explained of it."""
    legs = Leg.objects.standing().filter(
        account__kind=AccountKind.DIFFERENCE,
        movement__operation=OPERATION,
        movement__moment=enquiry.number,
    )
    return -sum(legs.values_list("pure_ul", flat=True))


def shares(enquiry: Enquiry, amount_ul: int, *, as_found: bool = False) -> list[Share]:
    """So much of it by run, account and stage; less than asked for where the runs' differences hold less.

    `as_found` leaves out what has been explained of it so far.
    """
    runs = covered(enquiry)
    held = _held(enquiry, runs, as_found=as_found)
    sign = 1 if amount_ul >= 0 else -1
    most = {run.pk: sum(max(0, sign * part.pure_ul) for part in held.get(run.pk, ())) for run in runs}
    parts = divided(abs(amount_ul), {run.pk: run.charge_ul for run in runs}, most)
    found: list[Share] = []
    for run in runs:
        left = parts[run.pk]
        for part in sorted(held.get(run.pk, ()), key=lambda one: -sign * one.pure_ul):
            taken = min(left, max(0, sign * part.pure_ul))
            if taken:
                found.append(Share(run, part.account, part.name, part.stage, sign * taken))
            left -= taken
    return found


def divided(amount: int, weights: Mapping[int, int], most: Mapping[int, int]) -> dict[int, int]:
    """An amount shared out in proportion to weights, none above its most; all of it, as far as there is room."""
    parts = dict.fromkeys(weights, 0)
    left = min(amount, sum(most.values()))
    while left:
        room = [key for key in weights if parts[key] < most[key]]
        weighs = {key: weights[key] for key in room} if any(weights[key] for key in room) else dict.fromkeys(room, 1)
        whole, given, seen = sum(weighs.values()), 0, 0
        for key, weight in weighs.items():
            # By running sums, so that what rounding takes from one is given to the next.
            seen += weight
            share = left * seen // whole - given
            given += share
            parts[key] += min(share, most[key] - parts[key])
        left = min(amount, sum(most.values())) - sum(parts.values())
    return parts


def _held(enquiry: Enquiry, runs: Sequence[EnquiryRun], *, as_found: bool) -> dict[int, list[Share]]:
    """What each run's difference holds now, by account and stage."""
    by_place = {(run.record_kind, run.record_number): run for run in runs}
    legs = Leg.objects.filter(
        account__kind=AccountKind.DIFFERENCE, movement__record_number__in={number for _, number in by_place}
    )
    if found := found_account(enquiry):
        legs = legs.filter(account__code=found)
    else:
        legs = legs.exclude(account__code__startswith=GAUGING)
    if as_found:
        legs = legs.exclude(movement__operation=OPERATION, movement__moment=enquiry.number)
    sums: dict[tuple[int, str, str, str], int] = defaultdict(int)
    for kind, number, code, name, stage, pure_ul in legs.values_list(
        "movement__record_kind", "movement__record_number", "account__code", "account__name", "stage", "pure_ul"
    ):
        run = by_place.get((kind, number))
        if run is not None:
            sums[run.pk, code, name, stage] += pure_ul
    held: dict[int, list[Share]] = defaultdict(list)
    by_pk = {run.pk: run for run in runs}
    for (pk, code, name, stage), pure_ul in sorted(sums.items()):
        held[pk].append(Share(by_pk[pk], code, name, stage, pure_ul))
    return held


def since(enquiry: Enquiry) -> datetime:
    """When the first run it covers happened."""
    runs = covered(enquiry)
    return runs[0].happened_at if runs else enquiry.happened_at
