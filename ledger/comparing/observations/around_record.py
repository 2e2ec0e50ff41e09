"""Reads the ledger around a few records: as much as they can be judged by, however large the books are."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime

from ledger.comparing.observations.from_ledger import (
    BY_WEIGHT,
    gauges_with,
    make_log,
    measures_with,
)
from ledger.comparing.observations.observed import Log
from ledger.models import Gauge, MeasuredFlow, Movement


def log_of_records(numbers: Collection[str]) -> Log:
    """The log of just these records, with what the casks among them held before; no other vessel is followed."""
    movements = Movement.objects.operations().filter(record_number__in=list(numbers))
    gauges = list(gauges_with(Gauge.objects.filter(movement__in=movements)))
    measures = list(measures_with(MeasuredFlow.objects.filter(movement__in=movements)))
    casks = {gauge.account_id for gauge in gauges if gauge.method in BY_WEIGHT}
    if casks:
        # A cask is judged by what it held at the gauge before, or at its filling.
        there = {one.pk for one in gauges}
        earlier = Gauge.objects.standing().filter(account__in=casks).exclude(pk__in=there)
        gauges += gauges_with(earlier)
        there = {one.pk for one in measures}
        fills = MeasuredFlow.objects.filter(movement__in=Movement.objects.operations(), taker__in=casks)
        measures += measures_with(fills.exclude(pk__in=there))
    return make_log(gauges, measures, [], in_period=frozenset(numbers), movements=movements)


def log_of_vessel(vessel: str, upto: datetime, last: int) -> Log:
    """The log of the records by which a vessel was gauged the last so many times up to a moment."""
    gauged = (
        Gauge.objects.standing()
        .filter(account__code=f"vessel:{vessel}", happened_at__lte=upto)
        .order_by("-happened_at", "-position")
        .values_list("movement_id", flat=True)[:last]
    )
    movements = Movement.objects.filter(pk__in=list(gauged))
    records = list(movements.values_list("record_number", flat=True))
    # What flowed stands between the gauges before and after in the same record.
    around = Movement.objects.operations().filter(record_number__in=records)
    gauges = list(gauges_with(Gauge.objects.filter(movement__in=around, happened_at__lte=upto)))
    measures = list(measures_with(MeasuredFlow.objects.filter(movement__in=around)))
    return make_log(gauges, measures, [], in_period=None, movements=around)
