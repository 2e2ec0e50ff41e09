"""Movements with all that their seals cover, in the order of the chain, one batch in memory at a time."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import TypeVar

from ledger import sealing
from ledger.models import Account, Duty, Figure, Gauge, Leg, Measure, Movement
from ledger.sealing import Details

BATCH = 500

Row = TypeVar("Row", Leg, Gauge, Measure, Figure, Duty)


@dataclass(frozen=True, slots=True)
class Link:
    """One movement with its legs and all else that its seal covers."""

    movement: Movement
    legs: list[Leg]
    details: Details


def links(*, upto: int | None = None) -> Iterator[Link]:
    """Every movement, to a number where one is given; six queries a batch."""
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
        measures = _by_movement(Measure.objects.filter(**among))
        figures = _by_movement(Figure.objects.filter(**among))
        duties = _by_movement(Duty.objects.filter(**among))
        for movement in batch:
            pk = movement.pk
            yield Link(movement, legs[pk], Details(gauges[pk], measures[pk], figures[pk], duties[pk]))
        last = batch[-1].pk


def link_of(movement: Movement) -> Link:
    """One movement with all that its seal covers."""
    return Link(
        movement,
        list(movement.legs.select_related("account", "other").order_by("line")),
        Details(
            list(movement.gauges.all()),
            list(movement.measures.all()),
            list(movement.figures.all()),
            list(movement.duties.all()),
        ),
    )


def seal_holds(link: Link) -> bool:
    """True where the content of one movement, asked for by itself, gives its seal."""
    movement = link.movement
    people = {one.pk: one.username for one in (movement.person, movement.second) if one is not None}
    named = Account.objects.in_bulk(sealing.accounts_of(link.legs, link.details))
    content = sealing.content(movement, link.legs, link.details, accounts=named, people=people)
    return sealing.seal(movement.previous_seal, content) == movement.seal


def _by_movement(rows: Iterable[Row]) -> dict[int, list[Row]]:
    found: dict[int, list[Row]] = defaultdict(list)
    for row in rows:
        found[row.movement_id].append(row)
    return found
