"""What records moved and left unaccounted for, by their numbers: for a page of a list, or added up over many.

One place, so that a list asks in one way whatever works the difference out. Microlitres of pure alcohol at 20 °C,
whole; a difference counts what is missing as positive.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from typing import Any, Final

from django.db.models import Exists, Max, OuterRef, Q, QuerySet, Sum

from distillery.plant.models import Kind
from ledger.models import AccountKind, Entry, Gauge, Leg, Movement, MovementKind
from ledger.posting.drafts import THE_BOOK
from ledger.statements.unaccounted_legs import APART, FOUND

REACHED: Final = (AccountKind.VESSEL, AccountKind.STOCK, AccountKind.REMOVAL)
# What a movement says its difference is judged against, where it is more than a gauging.
OF_AN_OPERATION = ~Q(movement__judged_against__in=("", THE_BOOK))
INTO = Q(entry=Entry.FLOW, pure_ul__gt=0, account__kind__in=REACHED) & ~Q(account__vessel__kind=Kind.STILL)


@dataclass(frozen=True, slots=True)
class RecordAlcohol:
    """What one record moved, or measured where it only measures, and its difference."""

    alcohol_ul: int
    difference_ul: int


def alcohol_of_records(kind: str, numbers: Collection[str] | QuerySet[Any, Any]) -> dict[str, RecordAlcohol]:
    """By number, of those records of a kind that posted anything: what stands of them, corrections taken in.

    The alcohol is what came into vessels (a still only passes on), casks and bottles, or left the site. A record that
    moved none of it has what its vessels were last gauged at, and its difference is what those gauges found. What an
    enquiry explained afterwards is not counted. Two queries however many records.
    """
    # What a gauge found is restated by movements of their own, which stand under the record of the gauge.
    legs = (
        _standing(Leg.objects, kind, numbers, (MovementKind.OPERATION, MovementKind.RESTATEMENT))
        .values_list("movement__record_number")
        .annotate(
            into=Sum("pure_ul", filter=INTO),
            apart=Sum("pure_ul", filter=APART),
            found=Sum("pure_ul", filter=FOUND),
            judged=Max("movement__judged_against", filter=OF_AN_OPERATION),
        )
    )
    posted = {number: (into, apart or 0, 0 if judged else found or 0) for number, into, apart, found, judged in legs}
    measured: dict[str, dict[int, int]] = defaultdict(dict)
    gauges = _standing(Gauge.objects, kind, numbers, (MovementKind.OPERATION,)).order_by("happened_at", "position")
    for number, account, pure in gauges.values_list("movement__record_number", "account_id", "pure_ul"):
        measured[number][account] = pure
    result = {}
    for number in {*posted, *measured}:
        into, apart, found = posted.get(number, (None, 0, 0))
        if into is None:
            result[number] = RecordAlcohol(sum(measured[number].values()), apart + found)
        else:
            result[number] = RecordAlcohol(into, apart)
    return result


def _standing(
    rows: Any, kind: str, numbers: Collection[str] | QuerySet[Any, Any], kinds: tuple[MovementKind, ...]
) -> Any:
    taken_back = Movement.objects.filter(corrects=OuterRef("movement"))
    return rows.filter(
        ~Exists(taken_back),
        movement__kind__in=kinds,
        movement__record_kind=kind,
        movement__record_number__in=numbers,
    )
