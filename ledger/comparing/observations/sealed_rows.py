"""Operations with all that hangs on them. Neither an operation nor what its seal covers ever changes, so what was read
once is known again by number and seal.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import Final, TypeVar

from django.db.models import QuerySet

from ledger.comparing.remembered import NOTHING, Remembered
from ledger.models import Figure, Gauge, MeasuredFlow, Movement

# So many that are not known yet are asked for by their numbers; of more, all are read.
MOST_BY_NUMBER: Final = 500
_Row = TypeVar("_Row", Gauge, MeasuredFlow, Figure)


@dataclass(frozen=True, slots=True)
class SealedRows:
    """One operation, its gauges, measured flows and figures, each with its movement and accounts."""

    movement: Movement
    gauges: tuple[Gauge, ...]
    flows: tuple[MeasuredFlow, ...]
    figures: tuple[Figure, ...]


def sealed_rows(movements: QuerySet[Movement], known: Remembered = NOTHING) -> list[SealedRows]:
    """These operations in the order in which they were written; only those are read that are not known by their seal.

    Four queries, or one where all are known.
    """
    if not known.remembers:
        return list(_read(movements).values())
    seals: dict[int, str] = dict(movements.order_by("pk").values_list("pk", "seal"))
    there: dict[int, SealedRows | None] = {pk: known.find((SealedRows, seal)) for pk, seal in seals.items()}
    missing = [pk for pk, rows in there.items() if rows is None]
    if missing:
        few = len(missing) <= MOST_BY_NUMBER
        for pk, rows in _read(Movement.objects.filter(pk__in=missing) if few else movements).items():
            there[pk] = rows
            known.keep((SealedRows, rows.movement.seal), rows)
    return [rows for rows in there.values() if rows is not None]


def gauges_by_number(gauges: QuerySet[Gauge], known: Remembered = NOTHING) -> list[Gauge]:
    """These gauges, with their movement and account, in the order of their numbers."""
    whole = gauges.select_related("movement", "account").order_by("pk")
    if not known.remembers:
        return list(whole)
    asked = list(gauges.order_by("pk").values_list("pk", "movement__seal"))
    there: dict[int, Gauge | None] = {pk: known.find((Gauge, seal, pk)) for pk, seal in asked}
    missing = [pk for pk, gauge in there.items() if gauge is None]
    if missing:
        few = len(missing) <= MOST_BY_NUMBER
        read = Gauge.objects.filter(pk__in=missing).select_related("movement", "account") if few else whole
        for gauge in read:
            there[gauge.pk] = gauge
            known.keep((Gauge, gauge.movement.seal, gauge.pk), gauge)
    return [gauge for gauge in there.values() if gauge is not None]


def _read(movements: QuerySet[Movement]) -> dict[int, SealedRows]:
    """What hangs on these movements, each with its movement, which is read once and not with every row."""
    read = {movement.pk: movement for movement in movements.order_by("pk")}
    gauges = _of_each(Gauge.objects.filter(movement__in=movements).select_related("account").order_by("pk"), read)
    flows = _of_each(
        MeasuredFlow.objects.filter(movement__in=movements).select_related("giver", "taker").order_by("pk"), read
    )
    figures = _of_each(Figure.objects.filter(movement__in=movements).order_by("movement_id", "line"), read)
    return {
        pk: SealedRows(movement, tuple(gauges[pk]), tuple(flows[pk]), tuple(figures[pk]))
        for pk, movement in read.items()
    }


def _of_each(rows: Iterable[_Row], movements: dict[int, Movement]) -> dict[int, list[_Row]]:
    of_each: dict[int, list[_Row]] = defaultdict(list)
    for row in rows:
        row.movement = movements[row.movement_id]
        of_each[row.movement_id].append(row)
    return of_each


def records_of(rows: Collection[SealedRows]) -> frozenset[str]:
    """The records of those among these operations on which anything hangs."""
    return frozenset(one.movement.record_number for one in rows if one.gauges or one.flows or one.figures)
