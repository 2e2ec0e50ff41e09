"""What has run off by now and where it went, by estimate: nobody has gauged it yet.

A receiver fills as it usually did: what the last runs gave it, in the middle, times how long it has been taken by this
run, over how long it usually is. Of fewer than three runs nothing is estimated. The estimate is for the person at the
still; it is never posted, and what is gauged at the end owes it nothing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Sum

from batches.running.before import Usual
from batches.running.figures import middle
from batches.running.runs import Run
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
    """A receiver of a run: what it held before, what has gone in since by estimate, and whether it is taken now."""

    field: str
    vessel: str
    capacity_litres: float | None
    before: Gauged | None
    gained: Gauged | None
    taken_now: bool

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


def fillings(
    run: Run, usual: Usual, gauges: Gauges, capacities: Mapping[str, float | None], now: datetime
) -> list[Filling]:
    """The receivers of a run as they stand by now."""
    found = []
    for name in receivers(run.sheet):
        before, after = _gauges_around(run.sheet, name)
        code = run.typed.get(name, "")
        found.append(
            Filling(
                name,
                code,
                capacities.get(code),
                gauges.get((run.record.number, before)),
                _gained(run, usual, gauges, name, before, after, now),
                run.spans[-1].into == name,
            )
        )
    return found


def hours_into(run: Run, name: str, now: datetime) -> float:
    """How long a receiver has been taken by a run so far."""
    return sum(
        ((min(span.until, now) if span.until else now) - span.since).total_seconds() / 3600
        for span in run.spans
        if span.into == name and span.since < now
    )


def _gained(run: Run, usual: Usual, gauges: Gauges, name: str, before: str, after: str, now: datetime) -> Gauged | None:
    gains, times = [], []
    for past in usual.runs:
        was, became = gauges.get((past.record.number, before)), gauges.get((past.record.number, after))
        if was is None or became is None or past.record.happened_to is None:
            continue
        gains.append(Gauged(became.litres - was.litres, became.lpa - was.lpa))
        times.append(hours_into(past, name, past.record.happened_to))
    time = middle(times)
    litres, lpa = middle([one.litres for one in gains]), middle([one.lpa for one in gains])
    if not usual.enough or not time or litres is None or lpa is None:
        return None
    share = hours_into(run, name, now) / time
    return Gauged(litres * share, lpa * share)


def _gauges_around(sheet: Sheet, name: str) -> tuple[str, str]:
    """The last gauge of a vessel before the run and its last after it, by their names."""
    of_vessel = [one for one in sheet.gauges if one.vessel == name]
    first, last = sheet.moments[0], sheet.moments[-1]
    before = [g.prefix for g in of_vessel if g.role == Role.BEFORE and sheet.moment_of(g.fields[0].name) is first]
    after = [g.prefix for g in of_vessel if g.role == Role.AFTER and sheet.moment_of(g.fields[0].name) is last]
    return (before[-1] if before else "", after[-1] if after else "")
