"""Reads the ledger's standing entries into a log: gauges and measured flows with their readings, in order of time.

A period is read with each vessel's last gauge before it, so that its first gauges have something to be compared with.
The number of queries does not depend on how much there is. Nothing is written.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from datetime import UTC, datetime
from typing import Any

from django.db.models import Exists, OuterRef, Q, QuerySet
from msgspec import json

from distillery.plant.models import MICRO, Cask
from ledger.comparing.observations.observed import (
    Doing,
    Event,
    Log,
    Measured,
    ObservedCask,
    ObservedCharge,
    ObservedFigure,
    ObservedFlow,
    ObservedGauge,
    ObservedReading,
)
from ledger.models import AccountKind, Figure, Gauge, MeasuredFlow, Movement
from ledger.periods.calendar import bounds
from ledger.posting.accounts import GAUGING, VESSEL_ACCOUNT
from ledger.posting.gauging import Method
from ledger.posting.legs import PLACES
from ledger.statements.unaccounted_legs import (
    Movements,
    OfLegs,
    explained_at,
    found_by,
    gauge_key,
    legs_of_explanations,
    of_legs,
)

# Columns that stand once for each line of a record, so that the record and the column do not yet name the reading.
_Place = tuple[str, str]
_LONG_AGO = datetime(1, 1, 2, tzinfo=UTC)
BY_WEIGHT = (Method.WEIGHT, Method.WEIGHT_AT_STRENGTH)


def log_of(period: str | None = None) -> Log:
    """The log of one period ('2027-03') by when things truly happened, or of everything posted.

    Raises NoSuchPeriod.
    """
    span = None if period is None else bounds(period)
    movements = Movement.objects.operations()
    if span is not None:
        movements = movements.filter(_took_place(*span))
    gauges, measures, figures = _rows_of(movements)
    judged = None
    if span is not None:
        movements_read = [one.movement for one in gauges]
        movements_read += [one.movement for one in measures] + [one.movement for one in figures]
        judged = frozenset(movement.record_number for movement in movements_read)
        gauges, measures = _with_last_before(span[0], gauges, measures)
    return make_log(gauges, measures, figures, in_period=judged, movements=movements)


def _rows_of(movements: QuerySet[Movement]) -> tuple[list[Gauge], list[MeasuredFlow], list[Figure]]:
    """What hangs on these movements, each with its movement, which is read once and not with every row."""
    known = {movement.pk: movement for movement in movements}
    gauges = list(Gauge.objects.filter(movement__in=movements).select_related("account"))
    measures = list(MeasuredFlow.objects.filter(movement__in=movements).select_related("giver", "taker"))
    figures = list(Figure.objects.filter(movement__in=movements).order_by("movement_id", "line"))
    for gauge in gauges:
        gauge.movement = known[gauge.movement_id]
    for measure in measures:
        measure.movement = known[measure.movement_id]
    for figure in figures:
        figure.movement = known[figure.movement_id]
    return gauges, measures, figures


def _took_place(start: datetime, end: datetime) -> Q:
    """What truly happened from one moment to another, wherever the books carry it."""
    return Q(true_at__isnull=True, happened_at__gte=start, happened_at__lt=end) | Q(true_at__gte=start, true_at__lt=end)


def gauges_with(gauges: QuerySet[Gauge]) -> QuerySet[Gauge]:
    return gauges.select_related("movement", "account")


def figures_with(figures: QuerySet[Figure]) -> QuerySet[Figure]:
    return figures.select_related("movement").order_by("movement_id", "line")


def measures_with(measures: QuerySet[MeasuredFlow]) -> QuerySet[MeasuredFlow]:
    return measures.select_related("movement", "giver", "taker")


def _with_last_before(
    start: datetime, gauges: list[Gauge], measures: list[MeasuredFlow]
) -> tuple[list[Gauge], list[MeasuredFlow]]:
    """Each vessel's last gauge before a moment, and what flowed into its casks before it."""
    accounts = {gauge.account_id for gauge in gauges}
    if not accounts:
        return gauges, measures
    earlier = Gauge.objects.standing().filter(happened_at__lt=start)
    later = earlier.filter(
        Q(happened_at__gt=OuterRef("happened_at"))
        | Q(happened_at=OuterRef("happened_at"), position__gt=OuterRef("position")),
        account=OuterRef("account"),
        # Said by itself, so that it is asked along the gauges of the vessel from there on.
        happened_at__gte=OuterRef("happened_at"),
    )
    before = earlier.filter(~Exists(later), account__in=accounts)
    casks = {gauge.account_id for gauge in gauges if gauge.method in BY_WEIGHT}
    fills = MeasuredFlow.objects.filter(
        movement__in=Movement.objects.operations().filter(_took_place(_LONG_AGO, start)), taker__in=casks
    )
    return [*gauges_with(before), *gauges], [*measures_with(fills), *measures]


def make_log(
    gauges: list[Gauge],
    measures: list[MeasuredFlow],
    figures: list[Figure],
    *,
    in_period: frozenset[str] | None,
    movements: Movements | None = None,
    with_found: bool = True,
    explained_in: Collection[str] | None = None,
    sources: frozenset[str] = frozenset(),
) -> Log:
    """The log of these rows; `movements` are those of operations among theirs, None where nothing is posted.

    Without `with_found` it is not asked what the gauges found against their books, nor what of that was explained:
    enough for what operations left. `explained_in` names all the records these rows are of, where they are few, so that
    the explanations of no other are read. `sources` are records that bring alcohol in, where no legs say so.
    """
    several = _several(gauges, measures)
    asked = with_found and movements is not None
    found = found_by(gauges, {gauge.movement_id for gauge in gauges}) if asked else {}
    legs = of_legs(movements) if movements is not None else OfLegs({}, frozenset(), sources)
    seen: list[Event] = [_gauge(gauge, several, found.get(gauge.pk)) for gauge in gauges]
    seen += [_flow(measure, several) for measure in measures]
    seen.sort(key=lambda event: (event.at, event.position))
    return Log(
        events=seen,
        figures=[_figure(figure, several) for figure in figures],
        differences={record: pure_ul / MICRO for record, pure_ul in legs.left.items()},
        is_posted=movements is not None,
        explained=_explained(gauges, found, explained_in, with_found=with_found),
        judged_against=judged_of([gauge.movement for gauge in gauges] + [measure.movement for measure in measures]),
        casks=_casks(seen),
        stills=frozenset(vessel_of(measure.giver.code) for measure in measures if _is_still(measure)),
        in_period=in_period,
        unfinished=legs.unfinished,
        sources=legs.sources,
    )


def _is_still(measure: MeasuredFlow) -> bool:
    # A still is never gauged: what leaves it by a measure is known by that measure alone.
    return measure.giver.kind == AccountKind.VESSEL and measure.taker.kind == AccountKind.LOSS


def _several(gauges: Iterable[Gauge], measures: Iterable[MeasuredFlow]) -> set[_Place]:
    """Record and column pairs that occur for more than one vessel."""
    vessels: dict[_Place, set[str]] = defaultdict(set)
    for gauge in gauges:
        for column in json.decode(gauge.raw):
            vessels[gauge.movement.record_number, column].add(gauge.account.code)
    for measure in measures:
        for column in json.decode(measure.raw):
            vessels[measure.movement.record_number, column].add(measure.taker.code)
    return {place for place, codes in vessels.items() if len(codes) > 1}


def vessel_of(code: str) -> str:
    return code.removeprefix(VESSEL_ACCOUNT)


def _doing(movement: Movement) -> Doing:
    return Doing(movement.record_number, movement.record_kind, movement.operation, movement.period)


def _gauge(gauge: Gauge, several: set[_Place], found_ul: int | None) -> ObservedGauge:
    vessel = vessel_of(gauge.account.code)
    return ObservedGauge(
        doing=_doing(gauge.movement),
        at=gauge.happened_at,
        position=gauge.position,
        vessel=vessel,
        name=gauge.name,
        role=gauge.role,
        measured=_measured(gauge, vessel, gauge_key(gauge), several),
        found=None if found_ul is None else found_ul / MICRO,
        movement=gauge.movement_id,
    )


def _flow(measure: MeasuredFlow, several: set[_Place]) -> ObservedFlow:
    giver, taker = vessel_of(measure.giver.code), vessel_of(measure.taker.code)
    cask = measure.method in BY_WEIGHT
    return ObservedFlow(
        doing=_doing(measure.movement),
        at=measure.movement.took_place_at,
        position=measure.movement.slot * PLACES + measure.line,
        giver=giver,
        taker=taker,
        measured=_measured(
            measure,
            taker if cask else giver,
            f"{measure.movement.record_number}/{taker if cask else giver}/{measure.name}",
            several,
        ),
        movement=measure.movement_id,
    )


def _measured(row: Gauge | MeasuredFlow, vessel: str, key: str, several: set[_Place]) -> Measured:
    typed: Mapping[str, str] = json.decode(row.raw)
    chain = json.decode(row.chain) if row.chain else {"readings": []}
    return Measured(
        key=key,
        method=row.method,
        vessel=vessel,
        lpa=row.pure_ul / MICRO,
        percent=row.percent20_millionths / MICRO,
        litres20=row.litres20_ul / MICRO,
        readings=tuple(
            _reading(one, key, row.movement.record_number, vessel, typed, several) for one in chain["readings"]
        )
        if row.chain
        else (_as_a_whole(row, key),),
        chain=row.chain,
    )


def _as_a_whole(row: Gauge | MeasuredFlow, key: str) -> ObservedReading:
    """An amount whose readings were not kept is one reading of itself, as sure as it was then worked out to be."""
    lpa = row.pure_ul / MICRO
    return ObservedReading(
        key=f"{key}:as a whole",
        part="",
        record=row.movement.record_number,
        column="",
        instrument="",
        value=lpa,
        unit="LPA",
        uncertainty=row.uncertainty_ul / MICRO,
        lpa=1.0,
        percent=0.0,
        typed="",
    )


def _reading(
    row: Mapping[str, Any], quantity: str, record: str, vessel: str, typed: Mapping[str, str], several: set[_Place]
) -> ObservedReading:
    column, of = row["column"], row["of"] or record
    key = f"{of}:{column}" if column else f"{quantity}:{row['part'] or row['instrument']}"
    if (of, column) in several:
        key = f"{key}:{vessel}"
    if not row["part"]:
        # Nobody read it. The error of the vessel's own table, a share of the volume, is one error in every gauge of
        # that vessel. All else of this kind (what solids hide, a step of the factor table, a distance to nothing) is an
        # error of this gauge alone, but for the part of it that lasts.
        key = f"table:{vessel}" if row["unit"] == "L" else f"{quantity}:{row['instrument']}"
    return ObservedReading(
        key=key,
        part=row["part"],
        record=of,
        column=column,
        instrument=row["instrument"],
        value=float(row["value"]),
        unit=row["unit"],
        uncertainty=float(row["u"]),
        lpa=float(row["lpa"]),
        percent=float(row["percent"]),
        typed=typed.get(column, ""),
        lasting=float(row.get("lasting", 0.0)),
    )


def _figure(figure: Figure, several: set[_Place]) -> ObservedFigure:
    movement, record = figure.movement, figure.movement.record_number
    parts: dict[str, float] = {}
    for named, weight in json.decode(figure.parts).items():
        column, _, vessel = named.partition("@")
        if (record, column) in several:
            # A column that stands once for each line is told by its vessel.
            if vessel:
                parts[f"{record}:{column}:{vessel}"] = weight
        else:
            parts[f"{record}:{column}"] = weight
    return ObservedFigure(
        doing=_doing(movement),
        at=movement.took_place_at,
        position=movement.slot * PLACES + figure.line,
        name=figure.name,
        like=figure.like,
        beside=figure.beside,
        column=figure.field,
        unit=figure.unit,
        value=figure.value_millionths / MICRO,
        expected=None if figure.expected_millionths is None else figure.expected_millionths / MICRO,
        spread=None if figure.spread_millionths is None else figure.spread_millionths / MICRO,
        parts=parts,
    )


def judged_of(movements: Iterable[Movement]) -> dict[str, ObservedCharge]:
    """What the differences of records are judged against, by record, as kept with their movements."""
    return {
        movement.record_number: ObservedCharge(
            movement.judged_against,
            (movement.judged_ul or 0) / MICRO,
            tuple(json.decode(movement.judged_parts or "{}").items()),
        )
        for movement in movements
        if movement.judged_against
    }


def _explained(
    gauges: list[Gauge], found: Mapping[int, int], records: Collection[str] | None, *, with_found: bool
) -> dict[str, float]:
    """LPA that answered explanations have taken out of a record's difference, or by its key out of a gauge's."""
    asked = legs_of_explanations()
    legs = list(asked if records is None else asked.filter(movement__record_number__in=records))
    explained: dict[str, float] = defaultdict(float)
    for leg in legs:
        if not leg.account.code.startswith(GAUGING):
            explained[leg.movement.record_number] -= leg.pure_ul / MICRO
    if with_found:
        keys = {gauge.pk: gauge_key(gauge) for gauge in gauges}
        for gauge, taken in explained_at(gauges, found, legs).items():
            explained[keys[gauge]] = -sum(leg.pure_ul for leg in taken) / MICRO
    return dict(explained)


def _casks(events: Iterable[Event]) -> dict[str, ObservedCask]:
    codes = {event.measured.vessel for event in events if event.measured.method in BY_WEIGHT}
    casks = Cask.objects.filter(vessel__code__in=codes).select_related("vessel")
    return {cask.vessel.code: ObservedCask(cask.kind, cask.nominal_ul / MICRO, cask.warehouse) for cask in casks}
