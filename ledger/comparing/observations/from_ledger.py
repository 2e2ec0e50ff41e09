"""Reads the ledger's standing entries into a log: gauges and measured flows with their readings, in order of time.

A period is read with each vessel's last gauge before it, so that its first gauges have something to be compared with.
The number of queries does not depend on how much there is. Nothing is written.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import UTC, datetime
from typing import Any

from django.db.models import Exists, OuterRef, Q, QuerySet
from msgspec import json

from distillery.plant.models import MICRO, Cask
from ledger.comparing.observations.as_observed import (
    OF_CASKS,
    columns_of_several,
    observed_figure,
    observed_flow,
    observed_gauge,
    vessel_of,
)
from ledger.comparing.observations.observed import Event, Log, ObservedCask, ObservedCharge, ObservedFlow
from ledger.comparing.observations.sealed_rows import SealedRows, gauges_by_number, records_of, sealed_rows
from ledger.comparing.remembered import NOTHING, Remembered
from ledger.models import AccountKind, Figure, Gauge, MeasuredFlow, Movement
from ledger.periods.calendar import bounds
from ledger.posting.accounts import GAUGING
from ledger.statements.emptied_casks import emptied_casks
from ledger.statements.unaccounted_legs import (
    Movements,
    OfLegs,
    explained_at,
    found_by,
    gauge_key,
    legs_of_explanations,
    of_legs,
)

_LONG_AGO = datetime(1, 1, 2, tzinfo=UTC)


def operations_in(period: str | None) -> QuerySet[Movement]:
    """The operations that stand of one period ('2027-03') by when things truly happened, or all that are posted.

    Raises NoSuchPeriod.
    """
    return _operations(None if period is None else bounds(period))


def _operations(span: tuple[datetime, datetime] | None) -> QuerySet[Movement]:
    movements = Movement.objects.operations()
    return movements if span is None else movements.filter(_took_place(*span))


def log_of(period: str | None = None, rows: Sequence[SealedRows] | None = None, known: Remembered = NOTHING) -> Log:
    """The log of one period ('2027-03') by when things truly happened, or of everything posted.

    `rows` are its operations with what hangs on them, where they have been read. Raises NoSuchPeriod.
    """
    span = None if period is None else bounds(period)
    movements = _operations(span)
    if rows is None:
        rows = sealed_rows(movements, known)
    gauges = [gauge for one in rows for gauge in one.gauges]
    measures = [flow for one in rows for flow in one.flows]
    figures = [figure for one in rows for figure in one.figures]
    judged = None
    if span is not None:
        judged = records_of(rows)
        gauges, measures = _with_last_before(span[0], gauges, measures, known)
    return make_log(gauges, measures, figures, in_period=judged, movements=movements, known=known)


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
    start: datetime, gauges: list[Gauge], measures: list[MeasuredFlow], known: Remembered
) -> tuple[list[Gauge], list[MeasuredFlow]]:
    """Each vessel's last gauge before a moment, and what flowed into its casks and out of them before it."""
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
    casks = {gauge.account_id for gauge in gauges if gauge.method in OF_CASKS}
    fills = MeasuredFlow.objects.filter(
        pk__in=flows_by(casks),
        movement__in=Movement.objects.operations().filter(_took_place(_LONG_AGO, start)),
    )
    return [*gauges_by_number(before, known), *gauges], [*measures_with(fills.order_by("pk")), *measures]


def flows_by(accounts: Collection[int | None]) -> QuerySet[MeasuredFlow, Any]:
    """The keys of what was weighed into these accounts or out of them. Two questions in one, each along an index of its
    own: of 'into or out of' SQLite goes through all movements."""
    flows = MeasuredFlow.objects.order_by()
    return flows.filter(taker__in=accounts).values("pk").union(flows.filter(giver__in=accounts).values("pk"))


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
    known: Remembered = NOTHING,
) -> Log:
    """The log of these rows; `movements` are those of operations among theirs, None where nothing is posted.

    Without `with_found` it is not asked what the gauges found against their books, nor what of that was explained:
    enough for what operations left. `explained_in` names all the records these rows are of, where they are few, so that
    the explanations of no other are read. `sources` are records that bring alcohol in, where no legs say so.
    """
    several = columns_of_several(gauges, measures, known)
    asked = with_found and movements is not None
    found = found_by(gauges, {gauge.movement_id for gauge in gauges}) if asked else {}
    legs = of_legs(movements) if movements is not None else OfLegs({}, frozenset(), sources)
    seen: list[Event] = [observed_gauge(gauge, several, found.get(gauge.pk), known) for gauge in gauges]
    seen += [observed_flow(measure, several, known) for measure in measures]
    seen.sort(key=lambda event: (event.at, event.position))
    explained = _explained(gauges, found, explained_in, with_found=with_found)
    return Log(
        events=seen,
        figures=[observed_figure(figure, several, known) for figure in figures],
        differences={record: pure_ul / MICRO for record, pure_ul in legs.left.items()},
        is_posted=movements is not None,
        explained=explained,
        explained_of_casks=_explained_of_casks(seen, explained),
        judged_against=judged_of([gauge.movement for gauge in gauges] + [measure.movement for measure in measures]),
        casks=_casks(seen),
        stills=frozenset(vessel_of(measure.giver.code) for measure in measures if _is_still(measure))
        - {vessel_of(gauge.account.code) for gauge in gauges},
        in_period=in_period,
        unfinished=legs.unfinished,
        sources=legs.sources,
    )


def _is_still(measure: MeasuredFlow) -> bool:
    # A still is never gauged: what leaves it by a measure is known by that measure alone.
    return measure.giver.kind == AccountKind.VESSEL and measure.taker.kind == AccountKind.LOSS


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


def _explained_of_casks(events: Iterable[Event], explained: Mapping[str, float]) -> dict[str, float]:
    """LPA of what was explained of records that emptied casks, as far as those lay beyond their band."""
    numbers = {event.doing.record for event in events if isinstance(event, ObservedFlow) and event.empties_a_cask}
    numbers &= explained.keys()
    if not numbers:
        return {}
    beyond: dict[str, float] = defaultdict(float)
    for one in emptied_casks(Movement.objects.operations().filter(record_number__in=numbers)):
        beyond[one.record] += one.beyond_ul / MICRO
    return {
        record: min(explained[record], max(beyond[record], 0.0))
        if explained[record] > 0
        else max(explained[record], min(beyond[record], 0.0))
        for record in numbers
    }


def _casks(events: Iterable[Event]) -> dict[str, ObservedCask]:
    codes = {event.measured.vessel for event in events if event.measured.method in OF_CASKS}
    casks = Cask.objects.filter(vessel__code__in=codes).values_list("vessel__code", "kind", "nominal_ul", "warehouse")
    return {code: ObservedCask(kind, nominal_ul / MICRO, warehouse) for code, kind, nominal_ul, warehouse in casks}
