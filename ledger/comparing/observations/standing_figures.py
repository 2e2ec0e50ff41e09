"""Reads figures as they stand in the books, with the newest of their kind before them and how sure their readings are.

The number of queries does not depend on how many there are. Nothing is written.
"""

from __future__ import annotations

from collections import defaultdict, deque
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, Final

from django.db.models import F, Min, Q, QuerySet, Subquery, Value, Window
from django.db.models.functions import Coalesce, RowNumber
from msgspec import json

from distillery.plant.models import MICRO
from ledger.comparing.observations.sealed_rows import SealedRows
from ledger.comparing.remembered import NOTHING, Remembered
from ledger.models import Figure, Gauge, MeasuredFlow, Movement, MovementKind
from ledger.posting.accounts import VESSEL_ACCOUNT

# Of earlier figures, the newest forty within thirteen months tell what is usual now.
MOST: Final = 40
REACH: Final = timedelta(days=400)
TRULY_AT: Final = Coalesce("movement__true_at", "movement__happened_at")
# By record, cask of the line (or '') and column: standard uncertainty of a reading, in its own unit.
Uncertainties = Mapping[tuple[str, str, str], float]


@dataclass(frozen=True, slots=True)
class StandingFigure:
    """A figure as it stands in the books."""

    movement_id: int
    record_kind: str
    record: str
    at: datetime
    name: str
    like: str
    beside: str
    field: str
    unit: str
    value: float
    expected: float | None
    spread: float | None
    parts: Mapping[str, float]
    vessel: str

    @property
    def kind(self) -> tuple[str, str]:
        """What it is compared with: figures of the same name and kind."""
        return self.name, self.like


def standing_figures() -> QuerySet[Figure]:
    """Figures of operations that stand."""
    return Figure.objects.standing().filter(movement__kind=MovementKind.OPERATION)


def figures_in_order(rows: QuerySet[Figure]) -> list[StandingFigure]:
    """These figures in the order in which they truly happened."""
    return in_order(figure for figure in rows.select_related("movement"))


def in_order(rows: Iterable[Figure], known: Remembered = NOTHING) -> list[StandingFigure]:
    """The same of figures that have been read, each with its movement."""
    placed = [((at := figure.movement).took_place_at, at.slot, at.pk, figure.line, figure) for figure in rows]
    placed.sort(key=lambda one: one[:4])
    return [
        known.part((StandingFigure, figure.movement.seal, figure.line), lambda figure=figure: _standing(figure))  # type: ignore[misc]
        for *_, figure in placed
    ]


def _standing(figure: Figure) -> StandingFigure:
    movement = figure.movement
    return StandingFigure(
        movement.pk,
        movement.record_kind,
        movement.record_number,
        movement.took_place_at,
        figure.name,
        figure.like,
        figure.beside,
        figure.field,
        figure.unit,
        figure.value_millionths / MICRO,
        None if figure.expected_millionths is None else figure.expected_millionths / MICRO,
        None if figure.spread_millionths is None else figure.spread_millionths / MICRO,
        *_parts(figure.parts),
    )


def _parts(text: str) -> tuple[dict[str, float], str]:
    """Sensitivities by column, and the cask of the line where they are named with one (`gross_kg@2027/0001`)."""
    parts: dict[str, float] = {}
    vessel = ""
    for key, moved in json.decode(text).items():
        column, _, line = key.partition("@")
        parts[column] = moved
        vessel = vessel or line
    return parts, vessel


def earlier_of_kind(window: Sequence[StandingFigure]) -> dict[tuple[str, str], deque[float]]:
    """The newest figures of each kind before the window, oldest first."""
    earlier: dict[tuple[str, str], deque[float]] = defaultdict(lambda: deque(maxlen=MOST))
    learning = [one for one in window if one.like]
    if not learning:
        return earlier
    first = min(one.at for one in learning)
    since = first - REACH
    before = (
        standing_figures()
        # No entry stands in the books before it truly happened, so that none with a lower number lies within the reach,
        # and the index of figures leads past all the years that lie before.
        .filter(movement__gte=_least_number(Movement.objects.filter(happened_at__gte=since)))
        .annotate(at=TRULY_AT)
        .filter(
            at__lt=first,
            at__gte=since,
            name__in={one.name for one in learning},
            like__in={one.like for one in learning},
        )
        .annotate(
            newest=Window(
                RowNumber(),
                partition_by=[F("name"), F("like")],
                order_by=[F("at").desc(), F("movement__slot").desc(), F("line").desc()],
            )
        )
        .filter(newest__lte=MOST)
        .order_by("-newest")
    )
    for name, like, value in before.values_list("name", "like", "value_millionths"):
        earlier[name, like].append(value / MICRO)
    return earlier


def _least_number(rows: QuerySet[Any]) -> Subquery:
    """The least key of these rows, asked within another question; NULL where there are none."""
    # Of the number alone SQLite would go along all numbers, from the first there is to the first that is asked for.
    least = rows.order_by().annotate(all=Value(1)).values("all").annotate(least=Min(F("pk") + 0))
    return Subquery(least.values("least"))


def uncertainties_of(records: Collection[str], without: Collection[int] = ()) -> Uncertainties:
    """Standard uncertainties of the readings of some records' gauges and flows, each in its own unit; without those of
    these movements, where they have been read."""
    if not records:
        return {}
    of_these = Q(movement__record_number__in=records)
    if without:
        # A record may have been posted by several movements, of which some lie in another period.
        numbers = Movement.objects.standing().filter(record_number__in=records).values_list("pk", flat=True)
        others = set(numbers) - set(without)
        if not others:
            return {}
        of_these = Q(movement__in=others)
    return uncertainties_in(
        Gauge.objects.standing().filter(of_these).values_list("movement__record_number", "chain"),
        MeasuredFlow.objects.standing().filter(of_these).values_list("movement__record_number", "taker__code", "chain"),
    )


def uncertainties_of_rows(rows: Sequence[SealedRows], known: Remembered) -> Uncertainties:
    """The same of operations that have been read with what hangs on them."""
    movements = {one.movement.pk for one in rows}
    records = {one.movement.record_number for one in rows}
    found = dict(uncertainties_of(records, without=movements)) if records else {}
    for one in rows:
        for gauge in one.gauges:
            for column, uncertainty in _known_readings(gauge, known):
                found[one.movement.record_number, "", column] = uncertainty
    for one in rows:
        for flow in one.flows:
            for column, uncertainty in _known_readings(flow, known):
                for place in ("", flow.taker.code.removeprefix(VESSEL_ACCOUNT)):
                    found[one.movement.record_number, place, column] = uncertainty
    return found


def _known_readings(row: Gauge | MeasuredFlow, known: Remembered) -> list[tuple[str, float]]:
    return known.part(
        ("uncertainties", row.movement.seal, row.pk),
        lambda: [(one["column"], one["u"]) for one in _readings(row.chain)],
    )


def uncertainties_in(gauges: Iterable[tuple[str, str]], flows: Iterable[tuple[str, str, str]]) -> Uncertainties:
    """The same of gauges (record, chain) and flows (record, code of the taker, chain) that have been read."""
    known: dict[tuple[str, str, str], float] = {}
    for record, chain in gauges:
        for reading in _readings(chain):
            known[record, "", reading["column"]] = reading["u"]
    for record, taker, chain in flows:
        for reading in _readings(chain):
            for place in ("", taker.removeprefix(VESSEL_ACCOUNT)):
                known[record, place, reading["column"]] = reading["u"]
    return known


def _readings(chain: str) -> list[dict[str, Any]]:
    """The readings of a gauge that stand on its own record."""
    return [one for one in json.decode(chain or '{"readings":[]}')["readings"] if one["column"] and not one["of"]]
