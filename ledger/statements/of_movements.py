"""What movements moved and left apart, by their numbers: for a page of a list, or added up over many.

Microlitres of pure alcohol at 20 °C, whole; a difference counts what is missing as positive. What takes another entry
back counts as the opposite of it, so that both together come to nothing.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Any, Final

from django.db.models import Exists, OuterRef, Q, QuerySet, Sum

from distillery.plant.models import Kind, Vessel
from ledger.models import AccountKind, Entry, Gauge, Leg, Movement, MovementKind
from ledger.statements.of_records import REACHED
from ledger.statements.unaccounted_legs import APART, FOUND

# Legs of a vessel above which it is busy.
BUSY: Final = 2_000
IN_PLACE = Q(entry=Entry.FLOW, account__kind__in=REACHED) & ~Q(account__vessel__kind=Kind.STILL)
OPPOSITE = Q(movement__kind=MovementKind.CORRECTION)
CAME = IN_PLACE & Q(pure_ul__gt=0) & ~OPPOSITE
WENT_BACK = IN_PLACE & Q(pure_ul__lt=0) & OPPOSITE


@dataclass(frozen=True, slots=True)
class MovementAlcohol:
    """What one movement brought into vessels, casks and bottles or out of the site; its difference; what its gauges
    found that their books did not have."""

    alcohol_ul: int = 0
    difference_ul: int = 0
    found_ul: int = 0


def alcohol_of_movements(numbers: Collection[int]) -> dict[int, MovementAlcohol]:
    """By number, in one query; movements that moved no alcohol are left out."""
    legs = Leg.objects.filter(movement__in=numbers).order_by().values_list("movement_id")
    summed = legs.annotate(
        came=Sum("pure_ul", filter=CAME),
        back=Sum("pure_ul", filter=WENT_BACK),
        apart=Sum("pure_ul", filter=APART),
        found=Sum("pure_ul", filter=FOUND),
    )
    return {
        number: MovementAlcohol((came or 0) + (back or 0), apart or 0, found or 0)
        for number, came, back, apart, found in summed
    }


def difference_of_all(movements: QuerySet[Movement]) -> tuple[int, int]:
    """Difference, and what gauges found, over all movements of a query: together those of the account of their time."""
    legs = Leg.objects.filter(movement__in=movements.order_by().values("pk"), account__kind=AccountKind.DIFFERENCE)
    sums = legs.aggregate(apart=Sum("pure_ul", filter=APART), found=Sum("pure_ul", filter=FOUND))
    return sums["apart"] or 0, sums["found"] or 0


def movements_about(vessel: Vessel) -> Q:
    """Movements that moved anything into or out of a vessel, or gauged it."""
    if _is_busy(vessel):
        return Q(Exists(_of(Leg, vessel, OuterRef("pk"))) | Exists(_of(Gauge, vessel, OuterRef("pk"))))
    legs, gauges = (rows.objects.filter(account__vessel=vessel).values("movement_id") for rows in (Leg, Gauge))
    return Q(pk__in=legs) | Q(pk__in=gauges)


def records_about(vessel: Vessel) -> Q:
    """Of rows with a `kind` and a `number` of a record: those that moved anything into or out of a vessel, or gauged
    it, corrected ones too."""
    if not _is_busy(vessel):
        return Q(number__in=Movement.objects.filter(movements_about(vessel)).values("record_number"))
    written = Movement.objects.filter(record_kind=OuterRef("kind"), record_number=OuterRef("number"))
    return Q(Exists(written.filter(movements_about(vessel))))


def _is_busy(vessel: Vessel) -> bool:
    """True where so much is about a vessel that any stretch of a list has some of it: then each row is asked, and the
    page is soon full. Where little is, that little is looked up first."""
    legs = Leg.objects.filter(account__vessel=vessel).order_by("account_id", "pk")
    return bool(legs[BUSY : BUSY + 1].exists())


def _of(rows: type[Leg] | type[Gauge], vessel: Vessel, movement: OuterRef) -> QuerySet[Any]:
    return rows.objects.filter(movement=movement, account__vessel=vessel)


def taken_back_by(numbers: Collection[Any]) -> dict[int, int]:
    """Which of these movements were taken back, and by which."""
    return dict(Movement.objects.filter(corrects__in=numbers).values_list("corrects_id", "pk"))
