"""Reads the ledger around a few records: as much as they can be judged by, however large the books are."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime

from django.db.models import Q, QuerySet

from ledger.comparing.observations.as_observed import OF_CASKS, vessel_of
from ledger.comparing.observations.from_ledger import figures_with, flows_by, gauges_with, make_log, measures_with
from ledger.comparing.observations.observed import Key, Log
from ledger.models import Figure, Gauge, MeasuredFlow, Movement, MovementKind
from ledger.posting.accounts import VESSEL_ACCOUNT

# So many gauges of a vessel say all that can be said of the next.
MOST_BACK = 6


def log_near(records: Collection[str]) -> Log:
    """The log of some records with the gauges of their vessels around them.

    Of each vessel it reads the gauges back to where it was last empty, at most half a dozen, and the next one after
    these records. The operations those gauges belong to are read whole, but their other vessels are not followed.
    """
    numbers = list(records)
    written = Movement.objects.operations().filter(record_number__in=numbers)
    own = list(gauges_with(Gauge.objects.filter(movement__in=written)).order_by("happened_at", "position"))
    around: dict[int, Gauge] = {}
    followed: dict[str, tuple[Key, Key]] = {}
    cut: set[str] = set()
    for account in {gauge.account_id for gauge in own}:
        mine = [gauge for gauge in own if gauge.account_id == account]
        back, more = _back_from(mine[0])
        stretch = [*reversed(back), *mine, *_on_from(mine[-1])]
        vessel = vessel_of(mine[0].account.code)
        followed[vessel] = _key(stretch[0]), _key(stretch[-1])
        if more:
            cut.add(vessel)
        around |= {gauge.pk: gauge for gauge in stretch}
    wanted = {gauge.movement.record_number for gauge in around.values()} | set(numbers)
    movements = list(Movement.objects.operations().filter(record_number__in=wanted).values_list("pk", flat=True))
    gauges = list(gauges_with(Gauge.objects.filter(movement__in=movements)))
    measures = list(measures_with(MeasuredFlow.objects.filter(movement__in=movements)))
    casks = {gauge.account_id for gauge in own if gauge.method in OF_CASKS}
    if casks:
        measures += measures_with(_fills_of(casks))
    figures = list(figures_with(Figure.objects.filter(movement__in=movements)))
    log = make_log(
        gauges,
        measures,
        figures,
        in_period=frozenset(wanted),
        movements=movements,
        explained_in=_records_of(gauges, measures),
    )
    return replace(log, followed=followed, cut=frozenset(cut))


def log_of_records(numbers: Collection[str]) -> Log:
    """The log of just these records, with what the casks among them held before; no other vessel is followed.

    For what operations left: what gauges found is not in it.
    """
    movements = Movement.objects.operations().filter(record_number__in=list(numbers)).in_bulk()
    return log_of_rows(movements.values(), *_measured_in(movements))


def log_of_rows(movements: Collection[Movement], gauges: Sequence[Gauge], measures: Sequence[MeasuredFlow]) -> Log:
    """The same of records whose standing operations, gauges and flows have been read, with movements and accounts."""
    taken, flowed = list(gauges), list(measures)
    records = frozenset(one.record_number for one in movements)
    casks = {gauge.account_id for gauge in taken if gauge.method in OF_CASKS}
    if casks:
        # A cask is judged by what it held at the gauge before, or at its filling.
        there = {one.pk for one in taken}
        earlier = Gauge.objects.standing().filter(account__in=casks).exclude(pk__in=there)
        taken += gauges_with(earlier)
        there = {one.pk for one in flowed}
        flowed += measures_with(_fills_of(casks).exclude(pk__in=there))
    return make_log(
        taken,
        flowed,
        [],
        in_period=records,
        movements=[one.pk for one in movements],
        with_found=False,
        explained_in=records,
    )


def log_of_vessel(vessel: str, upto: datetime, last: int) -> Log:
    """The log of the records by which a vessel was gauged the last so many times up to a moment."""
    gauged = (
        Gauge.objects.standing()
        .filter(account__code=f"{VESSEL_ACCOUNT}{vessel}", happened_at__lte=upto)
        .order_by("-happened_at", "-position")
        .values_list("movement_id", flat=True)[:last]
    )
    records = set(Movement.objects.filter(pk__in=list(gauged)).values_list("record_number", flat=True))
    # What flowed stands between the gauges before and after in the same record.
    around = Movement.objects.operations().filter(record_number__in=records).in_bulk()
    gauges, measures = _measured_in(around)
    gauges = [gauge for gauge in gauges if gauge.happened_at <= upto]
    return make_log(gauges, measures, [], in_period=None, movements=around.keys(), explained_in=records)


def _measured_in(movements: Mapping[int, Movement]) -> tuple[list[Gauge], list[MeasuredFlow]]:
    """The gauges and flows of movements by their numbers; each movement is read once, however many rows hang on it."""
    gauges = list(Gauge.objects.filter(movement__in=movements.keys()).select_related("account"))
    measures = list(MeasuredFlow.objects.filter(movement__in=movements.keys()).select_related("giver", "taker"))
    for one in (*gauges, *measures):
        one.movement = movements[one.movement_id]
    return gauges, measures


def _fills_of(casks: Collection[int | None]) -> QuerySet[MeasuredFlow]:
    """What operations that stand weighed into casks or out of them, given by their accounts."""
    return MeasuredFlow.objects.standing().filter(pk__in=flows_by(casks), movement__kind=MovementKind.OPERATION)


def _records_of(gauges: Iterable[Gauge], measures: Iterable[MeasuredFlow]) -> set[str]:
    return {one.movement.record_number for one in (*gauges, *measures)}


def _key(gauge: Gauge) -> Key:
    return gauge.happened_at, gauge.position


def _back_from(gauge: Gauge) -> tuple[list[Gauge], bool]:
    """A vessel's gauges before one, back to where it was found empty, and whether there were more before those."""
    before = list(
        gauges_with(
            Gauge.objects.standing().filter(
                Q(happened_at__lt=gauge.happened_at) | Q(happened_at=gauge.happened_at, position__lt=gauge.position),
                account=gauge.account_id,
            )
        ).order_by("-happened_at", "-position")[: MOST_BACK + 1]
    )
    anchor = next((place for place, one in enumerate(before) if not one.pure_ul), MOST_BACK)
    return before[: anchor + 1][:MOST_BACK], len(before) > min(anchor + 1, MOST_BACK)


def _on_from(gauge: Gauge) -> list[Gauge]:
    return list(
        gauges_with(
            Gauge.objects.standing().filter(
                Q(happened_at__gt=gauge.happened_at) | Q(happened_at=gauge.happened_at, position__gt=gauge.position),
                account=gauge.account_id,
            )
        ).order_by("happened_at", "position")[:1]
    )
