"""The strength of what runs off a still against the litres that have run off, over the last twenty runs of that still.

Litres are those read along the way; where they are not read, what the receivers took is spread evenly over the time
each was taken, and the picture says so. Usual is the median of at least five runs, and from their 10th to their 90th
part in a hundred.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from itertools import pairwise
from statistics import median, quantiles
from typing import Final

from batches.models import Mention, Record, State
from batches.running.figures import STRENGTH, figure_of
from batches.running.filling import hours_into
from batches.running.runs import Run, runs_of
from batches.sheets import fields
from batches.sheets.typed.completed import Completed
from distillery.charts.plots import Line, Place, Plot
from distillery.plant.models import MICRO
from ledger.models import Gauge

LOOKED_BACK_ON: Final = 20
FEWEST: Final = 5
STEPS: Final = 30
RUN_OFF = fields.litres("run_off_litres", "Run off so far", short="Run off", decimals=0)
ESTIMATED = "litres run off, estimated: even flow into each receiver"

# Of a receiver: the field that names it, its gauges before and after.
Receiver = tuple[str, str, str]
Curve = list[tuple[float, float]]


def strength_against_litres(written: Completed, receivers: Sequence[Receiver]) -> list[Plot]:
    """The picture of a run that has ended, or whose litres are read; none where nothing can be drawn."""
    record = written.site.record(written.sheet.kind, written.number)
    runs = runs_of([record]) if record is not None else []
    if record is None or not runs:
        return []
    run = runs[0]
    before = runs_of(_like(run))
    taken = _taken([run, *before], receivers)
    own, is_read = _curve(run, receivers, taken)
    if not own:
        return []
    usual = [curve for one in before if len(curve := _curve(one, receivers, taken)[0]) > 1]
    band, middle = _usual(usual)
    field = run.quantity
    return [
        Plot(
            "strength",
            "Strength against litres run off",
            "litres run off" if is_read else ESTIMATED,
            f"{field.label if field else 'Strength'}, % vol",
            (
                Line(run.record.number, tuple(own)),
                *([Line(f"Median of the last {len(usual)}", tuple(middle), dashed=True)] if middle else []),
            ),
            band=tuple(band),
            band_label="10 to 90 % of them" if band else "",
            marks=tuple(_cuts(run, receivers, taken)),
        )
    ]


def _like(run: Run) -> list[Record]:
    """The last runs of the same still before it, complete ones."""
    found = Record.objects.filter(
        kind=run.record.kind,
        state=State.COMPLETE,
        happened_from__lt=run.begun,
        mentions__what=Mention.What.VESSEL,
        mentions__field=run.sheet.occupies,
        mentions__code=run.vessel,
    )
    return list(found.order_by("-happened_from", "-pk")[:LOOKED_BACK_ON])


def _taken(runs: Sequence[Run], receivers: Sequence[Receiver]) -> Mapping[tuple[str, str], float]:
    """Litres at 20 °C that each receiver took in each run, by number and field: one query."""
    rows = (
        Gauge.objects.standing()
        .filter(movement__record_number__in=[run.record.number for run in runs])
        .values_list("movement__record_number", "name", "litres20_ul")
    )
    held = {(number, name): litres for number, name, litres in rows}
    found = {}
    for run in runs:
        for field, before, after in receivers:
            first, last = held.get((run.record.number, before)), held.get((run.record.number, after))
            if first is None and run.sheet.gauge(before).same_as:
                first = held.get((run.record.number, run.sheet.gauge(before).same_as))
            if first is not None and last is not None and last > first:
                found[run.record.number, field] = (last - first) / MICRO
    return found


def _curve(run: Run, receivers: Sequence[Receiver], taken: Mapping[tuple[str, str], float]) -> tuple[Curve, bool]:
    """Litres and strength of each reading, in order; whether the litres were read."""
    read = _read(run)
    if len(read) > 1:
        points = [(litres, point.value) for point in run.points if (litres := _between(read, point.at)) is not None]
        return points, True
    even = _even(run, receivers, taken)
    return [(litres, point.value) for point in run.points if (litres := even(point.at)) is not None], False


def _read(run: Run) -> list[tuple[datetime, float]]:
    """Litres as they were read along the way, rising from nothing at the beginning."""
    declared = run.sheet.reading(RUN_OFF.name)
    if declared is None:
        return []
    found = [
        (one.at, value) for one in run.standing(RUN_OFF.name) if (value := figure_of(declared, one.value)) is not None
    ]
    return sorted(found)


def _between(read: Sequence[tuple[datetime, float]], at: datetime) -> float | None:
    if not read[0][0] <= at <= read[-1][0]:
        return None
    for (before, low), (after, high) in pairwise(read):
        if at <= after:
            return high if after == before else low + (high - low) * ((at - before) / (after - before))
    return read[-1][1]


def _even(
    run: Run, receivers: Sequence[Receiver], taken: Mapping[tuple[str, str], float]
) -> Callable[[datetime], float | None]:
    """Litres by a moment, each receiver filling evenly while it was taken; None where one was not gauged."""
    ended = run.record.happened_to
    hours = {field: hours_into(run, field, ended) for field, _, _ in receivers} if ended is not None else {}
    filled = [field for field, of_it in hours.items() if of_it]
    if ended is None or any((run.record.number, field) not in taken for field in filled):
        return lambda at: None

    def litres_by(at: datetime) -> float | None:
        if not run.begun <= at <= ended:
            return None
        return sum(
            (taken[run.record.number, field] * hours_into(run, field, at) / hours[field] for field in filled), 0.0
        )

    return litres_by


def _usual(curves: Sequence[Curve]) -> tuple[list[tuple[float, float, float]], Curve]:
    """The band and the median of several curves at even steps of litres; nothing of fewer than five."""
    if len(curves) < FEWEST:
        return [], []
    start, end = min(curve[0][0] for curve in curves), max(curve[-1][0] for curve in curves)
    band, middle = [], []
    for step in range(STEPS + 1):
        litres = start + (end - start) * step / STEPS
        values = [value for curve in curves if (value := _at(curve, litres)) is not None]
        if len(values) >= FEWEST:
            tenths = quantiles(values, n=10, method="inclusive")
            band.append((litres, tenths[0], tenths[-1]))
            middle.append((litres, median(values)))
    return band, middle


def _at(curve: Curve, litres: float) -> float | None:
    if not curve[0][0] <= litres <= curve[-1][0]:
        return None
    for (x1, y1), (x2, y2) in pairwise(curve):
        if litres <= x2:
            return y2 if x2 == x1 else y1 + (y2 - y1) * (litres - x1) / (x2 - x1)
    return curve[-1][1]


def _cuts(run: Run, receivers: Sequence[Receiver], taken: Mapping[tuple[str, str], float]) -> list[Place]:
    read, even = _read(run), _even(run, receivers, taken)
    found = []
    for one in run.happened:
        if one.event.again:
            continue
        litres = _between(read, one.at) if len(read) > 1 else even(one.at)
        strength = next((typed for field, typed in one.figures if field.unit == STRENGTH and typed), "")
        if litres is not None:
            found.append(Place(litres, f"{one.event.label} at {strength} %" if strength else one.event.label))
    return found
