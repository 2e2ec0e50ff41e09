"""What has run off by now and where it went, by estimate: nobody has gauged it yet.

A receiver fills as it usually did: what the last runs gave it, in the middle, times how long it has been taken by this
run, over how long it usually is. Where it was changed in a run, both count as one; what the first has taken is then
measured. Of fewer than three runs nothing is estimated. The estimate is for the person at the still; it is never
posted, and what is gauged at the end owes it nothing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Sum

from batches.running.before import Usual
from batches.running.figures import middle
from batches.running.runs import Run
from batches.sheets.gauges import Gauge as SheetGauge
from batches.sheets.sheet import Role, Sheet
from distillery.plant.models import Vessel
from ledger.models import Gauge, Leg

# From how full on a receiver is near full: common practice, no source.
NEAR_FULL = 0.9
MICRO = 1_000_000


@dataclass(frozen=True, slots=True)
class Gauged:
    """What a gauge of a run came to: litres at 20 °C and litres of pure alcohol."""

    litres: float
    lpa: float


# The gauges that stand of several runs, by number of the record and name of the gauge.
Gauges = Mapping[tuple[str, str], Gauged]


@dataclass(frozen=True, slots=True)
class Filling:
    """A receiver of a run: what it held before, what has gone in since (by estimate, unless it is `measured` already),
    whether it is taken now.
    """

    field: str
    vessel: str
    capacity_litres: float | None
    before: Gauged | None
    gained: Gauged | None
    taken_now: bool
    measured: bool = False

    @property
    def litres(self) -> float | None:
        """What it holds by now, by estimate."""
        return None if self.before is None or self.gained is None else self.before.litres + self.gained.litres

    @property
    def near_full(self) -> bool:
        """True where it is taken and has little room left."""
        held, most = self.litres, self.capacity_litres
        return self.taken_now and held is not None and most is not None and held >= NEAR_FULL * most


def gauges_of(runs: Sequence[Run]) -> Gauges:
    """Every gauge that stands of these runs: one query."""
    rows = (
        Gauge.objects.standing()
        .filter(movement__record_number__in=[run.record.number for run in runs])
        .values_list("movement__record_number", "name", "litres20_ul", "pure_ul")
    )
    return {(number, name): Gauged(litres / MICRO, pure / MICRO) for number, name, litres, pure in rows}


def capacities_of(runs: Sequence[Run]) -> dict[str, float | None]:
    """How much the vessels that runs are in, and that take what runs off, can hold, in litres by code: one query."""
    codes = {run.typed.get(name, "") for run in runs for name in receivers(run.sheet)} | {run.vessel for run in runs}
    return {vessel.code: vessel.capacity_litres for vessel in Vessel.objects.filter(code__in=codes - {""})}


def charged_of(runs: Sequence[Run]) -> dict[str, int]:
    """Pure alcohol that the runs were charged with, in microlitres by number of the record: one query."""
    legs = Leg.objects.standing().filter(
        movement__record_number__in=[run.record.number for run in runs],
        account__vessel__code__in=[run.vessel for run in runs if run.sheet.occupies],
        pure_ul__gt=0,
    )
    return dict(legs.values_list("movement__record_number").annotate(Sum("pure_ul")))


def receivers(sheet: Sheet) -> list[str]:
    """The fields of the vessels that take what runs off, in the order in which they are taken."""
    if sheet.running is None:
        return []
    names = [sheet.running.into, *(event.into for event in sheet.running.events)]
    return list(dict.fromkeys(name for name in names if name))


def _in_turn(run: Run) -> list[list[str]]:
    """The same for a run, each with the one that took its place where it was changed."""
    instead = {event.instead_of: event.into for event in run.running.events if event.instead_of}
    first = [name for name in receivers(run.sheet) if name not in instead.values()]
    return [[name, *(one for one in [instead.get(name, "")] if run.typed.get(one))] for name in first]


def fillings(
    run: Run, usual: Usual, gauges: Gauges, capacities: Mapping[str, float | None], now: datetime
) -> list[Filling]:
    """The receivers of a run as they stand by now."""
    found = []
    for names in _in_turn(run):
        usually = _usually(usual, gauges, names[0])
        for name in names:
            code = run.typed.get(name, "")
            before, after = (_held(run, gauges, one) for one in _gauges_around(run, name))
            measured = _between(before, after)
            found.append(
                Filling(
                    name,
                    code,
                    capacities.get(code),
                    before,
                    measured or _estimate(usually, hours_into(run, name, now)),
                    run.spans[-1].into == name,
                    measured is not None,
                )
            )
    return found


def taken_by(run: Run, gauges: Gauges) -> dict[str, float | None]:
    """Litres at 20 °C that each receiver of a run took between its gauges, by its field; None where one is missing."""
    names = [name for names in _in_turn(run) for name in names]
    each = {name: _between(*(_held(run, gauges, one) for one in _gauges_around(run, name))) for name in names}
    return {name: None if one is None else one.litres for name, one in each.items()}


def hours_into(run: Run, name: str, now: datetime) -> float:
    """How long a receiver has been taken by a run so far."""
    return sum(
        ((min(span.until, now) if span.until else now) - span.since).total_seconds() / 3600
        for span in run.spans
        if span.into == name and span.since < now
    )


def _usually(usual: Usual, gauges: Gauges, first: str) -> tuple[Gauged, float] | None:
    """What the last runs gave a receiver and what took its place, in the middle, and how many hours they took for it;
    None of too few.
    """
    gains, times = [], []
    for past in usual.runs:
        names = next((names for names in _in_turn(past) if names[0] == first), [])
        each = [_between(*(_held(past, gauges, one) for one in _gauges_around(past, name))) for name in names]
        known = [one for one in each if one is not None]
        if past.record.happened_to is None or not known or len(known) < len(each):
            continue
        gains.append(Gauged(sum(one.litres for one in known), sum(one.lpa for one in known)))
        times.append(sum(hours_into(past, name, past.record.happened_to) for name in names))
    time = middle(times)
    litres, lpa = middle([one.litres for one in gains]), middle([one.lpa for one in gains])
    if not usual.enough or not time or litres is None or lpa is None:
        return None
    return Gauged(litres, lpa), time


def _estimate(usually: tuple[Gauged, float] | None, hours: float) -> Gauged | None:
    if usually is None:
        return None
    gain, usual_hours = usually
    return Gauged(gain.litres * hours / usual_hours, gain.lpa * hours / usual_hours)


def _held(run: Run, gauges: Gauges, name: str) -> Gauged | None:
    """A gauge of a run; one that is another where it is left blank is that other."""
    found = gauges.get((run.record.number, name))
    if found is None and name and (same := run.sheet.gauge(name).same_as):
        return gauges.get((run.record.number, same))
    return found


def _between(before: Gauged | None, after: Gauged | None) -> Gauged | None:
    """What came between two gauges."""
    if before is None or after is None:
        return None
    return Gauged(after.litres - before.litres, after.lpa - before.lpa)


def _gauges_around(run: Run, name: str) -> tuple[str, str]:
    """The last gauge of a receiver before anything of the run went into it and its last after, by their names."""
    sheet = run.sheet
    last = sheet.moments[-1]
    of_vessel = [one for one in sheet.gauges if one.following(lambda field: bool(run.typed.get(field))).vessel == name]
    before = [g.prefix for g in of_vessel if g.role == Role.BEFORE and sheet.moment_of(g.fields[0].name) is not last]
    after = [g.prefix for g in of_vessel if g.role == Role.AFTER and _takes(sheet, g)]
    return (before[-1] if before else "", after[-1] if after else "")


def _takes(sheet: Sheet, gauge: SheetGauge) -> bool:
    """True for a gauge taken while a run is on or at its end: what a receiver gave as it began is no part of it."""
    return sheet.moment_of(gauge.fields[0].name) is not sheet.moments[0]
