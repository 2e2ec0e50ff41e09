"""What casks that were weighed and emptied held less than their band made expected, or more than their book.

By the legs: what left a cask's book, less what evaporated as far as expected, less what was weighed out of it. Whole
microlitres of pure alcohol at 20 °C, missing positive.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.db.models import QuerySet, Sum

from distillery.plant.models import Kind
from ledger.models import AccountKind, Entry, Leg, MeasuredFlow, Movement
from ledger.posting.accounts import VESSEL_ACCOUNT


@dataclass(frozen=True, slots=True)
class Emptied:
    """One cask that a record emptied: what of its book its weights do not explain, its book before, and the standard
    uncertainty of what was weighed out.
    """

    record: str
    record_kind: str
    operation: str
    at: datetime
    cask: str
    beyond_ul: int
    book_ul: int
    uncertainty_ul: int


def emptied_casks(movements: QuerySet[Movement]) -> list[Emptied]:
    """The casks that were weighed out by these movements of operations, in order of their lines; two questions, and one
    where there are none.
    """
    flows = MeasuredFlow.objects.filter(
        movement__in=movements, giver__vessel__kind=Kind.CASK, taker__kind=AccountKind.DIFFERENCE
    )
    weighed = list(flows.select_related("movement", "giver").order_by("movement_id", "line"))
    if not weighed:
        return []
    legs = Leg.objects.filter(
        movement__in={one.movement_id for one in weighed}, account__in={one.giver_id for one in weighed}
    )
    left: dict[tuple[int, int | None, str], int] = {
        (movement, account, entry): pure for movement, account, entry, pure in _summed(legs)
    }
    return [_emptied(one, left) for one in weighed]


def _summed(legs: QuerySet[Leg]) -> QuerySet[Leg, tuple[int, int, str, int]]:
    by_entry = legs.order_by().values_list("movement_id", "account_id", "entry")
    return by_entry.annotate(Sum("pure_ul"))


def _emptied(flow: MeasuredFlow, left: dict[tuple[int, int | None, str], int]) -> Emptied:
    gone = {entry: -left.get((flow.movement_id, flow.giver_id, entry), 0) for entry in Entry.values}
    book_ul, movement = sum(gone.values()), flow.movement
    return Emptied(
        record=movement.record_number,
        record_kind=movement.record_kind,
        operation=movement.operation,
        at=movement.took_place_at,
        cask=flow.giver.code.removeprefix(VESSEL_ACCOUNT),
        beyond_ul=book_ul - gone[Entry.LOSS] - flow.pure_ul,
        book_ul=book_ul,
        uncertainty_ul=flow.uncertainty_ul,
    )
