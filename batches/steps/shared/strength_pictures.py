"""The strength of what runs off a still against the litres that have run off, over the last twenty runs of that still.

Litres are those read along the way. Where they are not read, what the receivers took is spread over the time each was
taken, evenly as far as each cut goes, and between the cuts so that the flow changes little by little
(`distillery.process.flow`): a flow that leapt at a cut would put a kink into the curve that no still has. The picture
says so. Usual is the median of at least five runs of the same product, and from their 10th to their 90th part in a
hundred.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from itertools import pairwise

from batches.models import Mention, Record, State
from batches.running.figures import STRENGTH, figure_of
from batches.running.filling import Gauges, gauges_of, hours_into, taken_by
from batches.running.like_batches import LAST, Curve, Spread, band_of
from batches.running.runs import Run, runs_of
from batches.sheets import fields
from batches.sheets.typed.completed import Completed
from distillery.charts.plots import Line, Place, Plot
from distillery.process.flow import between

LitresBy = Callable[[datetime], float | None]

RUN_OFF = fields.litres("run_off_litres", "Run off so far", short="Run off", decimals=0)
# A still that makes several products has runs of others between those that are alike.
PRODUCTS = 4
ESTIMATED = "litres run off, estimated from what each receiver took"


def strength_against_litres(written: Completed) -> list[Plot]:
    """The picture of a run that has ended, or whose litres are read; none where nothing can be drawn."""
    record = written.site.record(written.sheet.kind, written.number)
    runs = runs_of([record]) if record is not None else []
    if record is None or not runs:
        return []
    run = runs[0]
    before = [one for one in runs_of(_like(run)) if one.product == run.product][:LAST]
    gauges = gauges_of([run, *before])
    own, is_read = _curve(run, gauges)
    if not own:
        return []
    usual = [curve for one in before if len(curve := _curve(one, gauges)[0]) > 1]
    spreads = band_of(usual)
    field = run.quantity
    return [
        Plot(
            "strength",
            "Strength against litres run off",
            "litres run off" if is_read else ESTIMATED,
            f"{field.label if field else 'Strength'}, % vol",
            (
                Line(run.record.number, tuple(own)),
                *_middle(spreads, len(usual)),
            ),
            band=tuple((one.along, one.low, one.high) for one in spreads),
            band_label="10 to 90 % of them" if spreads else "",
            marks=tuple(_cuts(run, gauges)),
        )
    ]


def _like(run: Run) -> list[Record]:
    """The last runs of the same still before it, complete ones, the newest first; of any product."""
    found = Record.objects.filter(
        kind=run.record.kind,
        state=State.COMPLETE,
        happened_from__lt=run.begun,
        mentions__what=Mention.What.VESSEL,
        mentions__field=run.sheet.occupies,
        mentions__code=run.vessel,
    )
    return list(found.order_by("-happened_from", "-pk")[: LAST * (PRODUCTS if run.product else 1)])


def _middle(spreads: Sequence[Spread], number: int) -> list[Line]:
    points = tuple((one.along, one.median) for one in spreads)
    return [Line(f"Median of the last {number}", points, dashed=True)] if points else []


def _curve(run: Run, gauges: Gauges) -> tuple[Curve, bool]:
    """Litres and strength of each reading and cut, in order; whether the litres were read."""
    read = _read(run)
    litres_by = _litres_by(run, gauges, read)
    points = [(litres, point.value) for point in run.points if (litres := litres_by(point.at)) is not None]
    return points, len(read) > 1


def _litres_by(run: Run, gauges: Gauges, read: Sequence[tuple[datetime, float]]) -> LitresBy:
    if len(read) > 1:
        return lambda at: _between(read, at)
    return _estimated(run, taken_by(run, gauges))


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


def _estimated(run: Run, taken: Mapping[str, float | None]) -> LitresBy:
    """Litres by a moment: at each change of receiver as if each filled evenly while it was taken, and in between so
    that the flow changes little by little; None where one was not gauged.
    """
    ended = run.record.happened_to
    hours = {field: hours_into(run, field, ended) for field in taken} if ended is not None else {}
    filled = {field: took for field, took in taken.items() if hours.get(field)}
    known = {field: took for field, took in filled.items() if took is not None}
    if ended is None or len(known) < len(filled):
        return lambda at: None

    def evenly(at: datetime) -> float:
        return sum((took * hours_into(run, field, at) / hours[field] for field, took in known.items()), 0.0)

    changes = sorted({run.begun, *(span.since for span in run.spans if run.begun < span.since < ended), ended})
    points = [((at - run.begun).total_seconds(), evenly(at)) for at in changes]
    rises = len(points) > 1 and all(later[1] >= one[1] for one, later in pairwise(points))

    def litres_by(at: datetime) -> float | None:
        if not run.begun <= at <= ended:
            return None
        return between(points, (at - run.begun).total_seconds()) if rises else evenly(at)

    return litres_by


def _cuts(run: Run, gauges: Gauges) -> list[Place]:
    litres_by = _litres_by(run, gauges, _read(run))
    found = []
    for one in run.happened:
        if one.event.again:
            continue
        litres = litres_by(one.at)
        strength = next((typed for field, typed in one.figures if field.unit == STRENGTH and typed), "")
        if litres is not None:
            found.append(Place(litres, f"{one.event.label} at {strength} %" if strength else one.event.label))
    return found
