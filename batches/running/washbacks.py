"""What stands in each washback now, when it will be ready, which is charged next, and which wash still is free."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from batches.models import Record
from batches.running.before import Usual
from batches.running.like_batches import curve_of
from batches.running.runs import Run, runs_of
from batches.running.runs_on import runs_on
from batches.running.steady import steady_hour
from batches.sheets.site import Site
from distillery.clock.reading import site_day
from distillery.plant.models import Kind, Stage, Vessel
from distillery.rules.in_force import usual_figure
from ledger.models import Account
from ledger.statements.at_work import AtWork, at_work
from ledger.statements.balances import Holding, holdings
from ledger.statements.cleaned import Cleaning, cleaned

LONGEST_WAIT = "longest wait of wash"
EMPTY, WAITS = "Empty", "Wash waits"


@dataclass(frozen=True, slots=True)
class WashbackNow:
    """A washback with what is in it: litres at 20 °C or as they went in, hours since it was set, relative density last
    read. `ready_at` is an estimate by the last batches in it; `waiting_since` is when its gravity came to rest, or
    else when it was declared.
    """

    vessel: Vessel
    state: str
    record_kind: str = ""
    record_number: str = ""
    litres: float | None = None
    hours: float | None = None
    gravity: float | None = None
    ready_at: datetime | None = None
    waiting_since: datetime | None = None
    waits_too_long: bool = False
    cleaning: Cleaning | None = None


@dataclass(frozen=True, slots=True)
class Board:
    """Every washback in order of the plant, the one whose wash is charged next, and the wash stills that are free."""

    washbacks: Sequence[WashbackNow]
    next_to_charge: WashbackNow | None
    free_stills: Sequence[Vessel]
    busy_stills: Sequence[tuple[Vessel, Run]]


def board(now: datetime) -> Board:
    """The board as it stands. What waits longest is charged next; where nothing waits, what is ready first."""
    going = runs_on()
    on = {run.vessel: run for run in going.runs if run.vessel}
    vessels = list(Vessel.objects.filter(kind=Kind.WASHBACK).order_by("order", "code"))
    usual, working = going.usual, at_work()
    held = {one.account.vessel_id: one for one in holdings(Account.objects.filter(vessel__in=vessels))}
    cleanings, site = cleaned(held.values(), now), Site()
    washbacks = []
    for vessel in vessels:
        run, holding = on.get(vessel.code), held.get(vessel.pk)
        if run is not None and run.sheet.works_in is not None:
            washbacks.append(_fermenting(vessel, run, usual[run.record.pk], working.get(vessel.pk), now))
        elif run is not None:
            said = run.spans[-1].state
            washbacks.append(WashbackNow(vessel, said, run.record.kind, run.record.number, hours=_hours(run, now)))
        elif holding is not None and holding.pure_ul:
            washbacks.append(_waiting(vessel, holding, site.last_into(vessel, now), now))
        elif (at := working.get(vessel.pk)) is not None:
            washbacks.append(_not_pitched(vessel, at, now))
        else:
            washbacks.append(WashbackNow(vessel, EMPTY, cleaning=cleanings.get(vessel.code)))
    stills = list(Vessel.objects.filter(kind=Kind.STILL, stage=Stage.WASH).order_by("order", "code"))
    return Board(
        washbacks,
        _next(washbacks),
        [still for still in stills if still.code not in on],
        [(still, on[still.code]) for still in stills if still.code in on],
    )


def _next(washbacks: Sequence[WashbackNow]) -> WashbackNow | None:
    waiting = [(one.waiting_since, place) for place, one in enumerate(washbacks) if one.waiting_since is not None]
    coming = [(one.ready_at, place) for place, one in enumerate(washbacks) if one.ready_at is not None]
    first = min(waiting or coming, default=None)
    return washbacks[first[1]] if first is not None else None


def _fermenting(vessel: Vessel, run: Run, usual: Usual, at: AtWork | None, now: datetime) -> WashbackNow:
    field = run.quantity
    curve = curve_of(run, field) if field is not None else []
    hour = steady_hour(curve, site_day(run.begun))
    since = None if hour is None else run.begun + timedelta(hours=hour)
    return WashbackNow(
        vessel,
        run.spans[-1].state if since is None else f"{run.spans[-1].state}, steady",
        run.record.kind,
        run.record.number,
        litres=at.litres if at is not None else None,
        hours=_hours(run, now),
        gravity=curve[-1][1] if curve else None,
        ready_at=run.begun + usual.length if since is None and usual.length else None,
        waiting_since=since,
        waits_too_long=_too_long(since, now),
    )


def _waiting(vessel: Vessel, holding: Holding, record: Record | None, now: datetime) -> WashbackNow:
    if record is None:
        return WashbackNow(vessel, WAITS, litres=holding.litres20)
    run = next(iter(runs_of([record])), None)
    field = run.quantity if run is not None else None
    curve = curve_of(run, field) if run is not None and field is not None else []
    hour = steady_hour(curve, site_day(record.happened_from)) if curve else None
    since = record.happened_to if hour is None else record.happened_from + timedelta(hours=hour)
    return WashbackNow(
        vessel,
        WAITS,
        record.kind,
        record.number,
        litres=holding.litres20,
        hours=_since(record.happened_from, now),
        gravity=curve[-1][1] if curve else None,
        waiting_since=since,
        waits_too_long=_too_long(since, now),
    )


def _not_pitched(vessel: Vessel, at: AtWork, now: datetime) -> WashbackNow:
    hours = _since(at.since, now) if at.since is not None else None
    said = at.said[:1].upper() + at.said[1:]
    return WashbackNow(vessel, said, at.record_kind, at.record_number, litres=at.litres, hours=hours)


def _too_long(since: datetime | None, now: datetime) -> bool:
    row = usual_figure(LONGEST_WAIT, site_day(now))
    if since is None or row is None or row.expected is None:
        return False
    return _since(since, now) > row.expected


def _hours(run: Run, now: datetime) -> float:
    return _since(run.begun, now)


def _since(begun: datetime, now: datetime) -> float:
    return (now - begun) / timedelta(hours=1)
