"""What operations and gauges left unaccounted for, added up from the legs that stand: one place for every figure of it.

Whole microlitres of pure alcohol at 20 °C. An operation's difference counts what is missing as positive; a gauge counts
what it found more than its book as positive. What an enquiry explained afterwards is not taken off what was found.

A record may gauge one vessel more than once. Its account of differences then has one leg for all of them, so what each
gauge found is read from the legs of the vessel itself, which stand in the place of their gauge.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Final

from django.db.models import Count, Q, QuerySet, Sum

from distillery.plant.models import Kind
from ledger.enquiries.models import Enquiry
from ledger.models import AccountKind, Entry, Gauge, Leg, Movement, MovementKind, StandingLegs
from ledger.periods.places import CARRIED
from ledger.posting.accounts import GAUGING, VESSEL_ACCOUNT

FOUND: Final = Q(account__code__startswith=GAUGING)
# What an operation left, and not what its gauges found before it began.
APART: Final = Q(account__kind=AccountKind.DIFFERENCE) & ~FOUND
IN_A_STILL: Final = Q(account__vessel__kind=Kind.STILL)
# What comes from a source and is judged against nothing has no balance; what is judged against a document has one.
FROM_A_SOURCE: Final = Q(account__kind=AccountKind.SOURCE, movement__judged_against="")

# Movements as a question, or by their numbers.
Movements = QuerySet[Movement] | Collection[int]


def gauge_key(gauge: Gauge) -> str:
    """How a gauge is named wherever it is compared: record, vessel and name, 'SR0007/FR/feints_before'.

    Asks for the account and the movement of the gauge. A correction keeps it.
    """
    vessel = gauge.account.code.removeprefix(VESSEL_ACCOUNT)
    return f"{gauge.movement.record_number}/{vessel}/{gauge.name}"


@dataclass(frozen=True, slots=True)
class OfLegs:
    """What the legs of operations say of their records, by number: the difference each left, those whose charge has not
    all left its still, so that they have no balance yet, and those by which alcohol came in from a source."""

    left: Mapping[str, int]
    unfinished: frozenset[str]
    sources: frozenset[str]


def of_legs(movements: Movements) -> OfLegs:
    """What the legs of these movements of operations say; one query."""
    rows = (
        Leg.objects.filter(APART | IN_A_STILL | FROM_A_SOURCE, movement__in=movements)
        .values_list("movement__record_number")
        .annotate(
            left=Sum("pure_ul", filter=APART),
            held=Sum("pure_ul", filter=IN_A_STILL),
            sources=Count("pk", filter=FROM_A_SOURCE),
        )
        .order_by()
    )
    summed = list(rows)
    return OfLegs(
        left={record: left_ul for record, left_ul, _, _ in summed if left_ul is not None},
        unfinished=frozenset(record for record, _, held_ul, _ in summed if held_ul),
        sources=frozenset(record for record, _, _, sources in summed if sources),
    )


def found_by(gauges: Collection[Gauge], movements: Movements) -> dict[int, int]:
    """What each gauge found more (positive) or less than its book, by its key, restatements counted in; three queries.

    `movements` are those the gauges hang on, or more.
    """
    own: dict[tuple[int, int, int], int] = defaultdict(int)
    legs: QuerySet[Any, Any] = Leg.objects.filter(
        movement__in=movements, entry=Entry.GAUGING, account__kind=AccountKind.VESSEL
    ).values_list("movement_id", "account_id", "position", "pure_ul")
    for movement, account, position, pure_ul in legs:
        # What a closed period carries stands lower; a gauge keeps its own place.
        own[movement, account, position if position >= 0 else position + CARRIED] += pure_ul
    again = _restated(movements)
    return {
        gauge.pk: own.get((gauge.movement_id, gauge.account.pk, gauge.position), 0) + again.get(gauge.pk, 0)
        for gauge in gauges
    }


def _restated(movements: Movements) -> dict[int, int]:
    """What was found by the gauges of these movements once more, by the gauge's key.

    The restatements are looked up first: together with their legs, the database may begin at the accounts and go
    through every leg there is.
    """
    of_these = Gauge.objects.filter(movement__in=movements)
    restates = dict(Movement.objects.filter(restates__in=of_these).values_list("pk", "restates_id"))
    found: dict[int, int] = defaultdict(int)
    legs = Leg.objects.standing().filter(movement__in=restates.keys())
    for movement, kind, pure_ul in legs.values_list("movement_id", "account__kind", "pure_ul"):
        gauge = restates[movement]
        if kind == AccountKind.VESSEL and gauge is not None:
            found[gauge] += pure_ul
    return found


def legs_found_at(gauges: Collection[Gauge]) -> StandingLegs:
    """The legs by which a vessel's book was brought to these gauges of it, first written or restated, whatever stands.

    All are gauges of one vessel in one record; what was taken back is among the legs with its opposite.
    """
    places = {gauge.position for gauge in gauges}
    return Leg.objects.filter(
        account__in={gauge.account_id for gauge in gauges},
        movement__record_number__in={gauge.movement.record_number for gauge in gauges},
        entry=Entry.GAUGING,
        position__in=places | {place - CARRIED for place in places},
    )


def legs_of_explanations() -> StandingLegs:
    """What answered enquiries took out of differences and gave to known losses, or back, as far as it stands."""
    return (
        Leg.objects.standing()
        .filter(account__kind=AccountKind.DIFFERENCE, movement__kind=MovementKind.EXPLANATION)
        .select_related("movement", "account")
        .order_by("pk")
    )


def explained_at(
    gauges: Collection[Gauge], found: Mapping[int, int], explanations: Iterable[Leg]
) -> dict[int, list[Leg]]:
    """Which of the legs of explanations took something out of what each gauge found, by the gauge's key; one query.

    `found` is what each found. An enquiry about a gauge explains that gauge. One about what lasts covers a record as a
    whole, and its share there is taken out of the gauge of the record that found most.
    """
    by_place: dict[tuple[str, str], list[Gauge]] = defaultdict(list)
    for gauge in gauges:
        if gauge.role == "before":
            vessel = gauge.account.code.removeprefix(VESSEL_ACCOUNT)
            by_place[gauge.movement.record_number, f"{GAUGING}{vessel}"].append(gauge)
    legs = [leg for leg in explanations if leg.account.code.startswith(GAUGING)]
    keys = dict(Enquiry.objects.filter(number__in={leg.movement.moment for leg in legs}).values_list("number", "key"))
    explained: dict[int, list[Leg]] = defaultdict(list)
    for leg in legs:
        there = by_place.get((leg.movement.record_number, leg.account.code), [])
        named = keys.get(leg.movement.moment, "").partition(":")[2]
        own = [gauge for gauge in there if gauge_key(gauge) == named]
        if there:
            most = own[0] if own else max(there, key=lambda gauge: abs(found.get(gauge.pk, 0)))
            explained[most.pk].append(leg)
    return explained
