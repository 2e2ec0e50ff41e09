"""Movements with all that their seals cover, in the order of the chain, one batch in memory at a time."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import TypeVar

from ledger.models import Duty, Gauge, Leg, Movement

BATCH = 500

Row = TypeVar("Row", Leg, Gauge, Duty)


@dataclass(frozen=True, slots=True)
class Link:
    """One movement with its legs, gauges and duties."""

    movement: Movement
    legs: list[Leg]
    gauges: list[Gauge]
    duties: list[Duty]


def links(*, upto: int | None = None) -> Iterator[Link]:
    """Every movement, to a number where one is given; four queries a batch."""
    last = 0
    while True:
        ahead = Movement.objects.filter(pk__gt=last)
        if upto is not None:
            ahead = ahead.filter(pk__lte=upto)
        batch = list(ahead.order_by("pk")[:BATCH])
        if not batch:
            return
        among = {"movement_id__gte": batch[0].pk, "movement_id__lte": batch[-1].pk}
        legs = _by_movement(Leg.objects.filter(**among))
        gauges = _by_movement(Gauge.objects.filter(**among))
        duties = _by_movement(Duty.objects.filter(**among))
        for movement in batch:
            yield Link(movement, legs[movement.pk], gauges[movement.pk], duties[movement.pk])
        last = batch[-1].pk


def _by_movement(rows: Iterable[Row]) -> dict[int, list[Row]]:
    found: dict[int, list[Row]] = defaultdict(list)
    for row in rows:
        found[row.movement_id].append(row)
    return found
