"""What still stands in the way of the end of a distillation period, each with the record that settles it.

A period ends when all its wort is distilled and its feints and spirits are in their receivers and accounted for.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from batches.distilling.periods import StillRun, runs_between
from batches.models import State
from batches.sheets.sheet import Role
from batches.sheets.typed.parsing import is_missing
from distillery import figures
from ledger.models import Gauge

MICRO = 1_000_000


@dataclass(frozen=True, slots=True)
class InTheWay:
    """One thing in the way: what it is, and the record where it is settled."""

    sentence: str
    kind: str
    number: str


def in_the_way(spirits: str, opened_at: datetime, at: datetime) -> list[InTheWay]:
    """All that stands in the way of ending, at a moment, a period of a class of spirits. Three queries."""
    runs = runs_between(spirits, opened_at, at)
    return [*_not_ended(runs, at), *_not_measured(runs), *_waiting(runs), *_wash_left(runs)]


def _not_ended(runs: Sequence[StillRun], at: datetime) -> list[InTheWay]:
    found = []
    for run in runs:
        ended = run.record.happened_to
        if run.record.state == State.OPEN or ended is None:
            still = run.typed.get(run.sheet.occupies, "its still")
            said = f"{run.record.number} is charged in {still} and has not ended."
            found.append(InTheWay(said, run.record.kind, run.record.number))
        elif ended > at:
            said = f"{run.record.number} ended {figures.moment(ended)}, which is after this."
            found.append(InTheWay(said, run.record.kind, run.record.number))
    return found


def _not_measured(runs: Sequence[StillRun]) -> list[InTheWay]:
    """Runs of which a receiver was marked missing when they ended: what they gave is in no account."""
    found = []
    for run in runs:
        gauges = [one for one in run.sheet.gauges if one.role == Role.AFTER]
        missing = [
            one.label for one in gauges if any(is_missing(run.typed.get(field.name, "")) for field in one.fields)
        ]
        if missing:
            said = f"{run.record.number}: {missing[0]} is marked missing, so what it gave is not accounted for."
            found.append(InTheWay(said, run.record.kind, run.record.number))
    return found


def _waiting(runs: Sequence[StillRun]) -> list[InTheWay]:
    return [
        InTheWay(f"{run.record.number} waits for a second person.", run.record.kind, run.record.number)
        for run in runs
        if run.record.state == State.WAITING
    ]


def _wash_left(runs: Sequence[StillRun]) -> list[InTheWay]:
    """Washbacks of which some wash was charged and some still stands: the last gauge of their last charge."""
    last = {run.wash_of: run for run in runs if run.wash_of}
    if not last:
        return []
    gauges = (
        Gauge.objects.standing()
        .filter(
            movement__record_number__in=[run.record.number for run in last.values()],
            account__vessel__kind="washback",
            role=Role.AFTER.value,
        )
        .values_list("movement__record_number", "account__vessel__code", "litres20_ul")
    )
    left = {number: (code, litres_ul) for number, code, litres_ul in gauges}
    found = []
    for wash, run in last.items():
        code, litres_ul = left.get(run.record.number, ("", 0))
        if litres_ul > 0:
            litres = figures.litres_from_ul(litres_ul, 0)
            said = f"{code} still holds {litres} L of {wash}, of which {run.record.number} was charged."
            found.append(InTheWay(said, run.record.kind, run.record.number))
    return found
