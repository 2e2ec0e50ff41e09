"""All that is on, with what is usual of it, as far as the books are written: read once, and remembered by the process
until anything is written. What depends on the clock is worked out from it whenever it is asked for.

The runs before are remembered beyond that: a reading of what is on, the commonest thing written, is not about them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

from django.db.models import Max

from batches.models import Reading, Record, Signature, Version
from batches.running.before import Usual, usual_of
from batches.running.filling import Gauges, capacities_of, gauges_of
from batches.running.runs import Run, all_running, runs_of
from distillery.database.one_moment import as_at_one_moment
from ledger.so_far import so_far


@dataclass(frozen=True, slots=True)
class RunsOn:
    """Runs in order of the process and of their beginnings; what is usual of each, by the key of its record; the gauges
    of them and of those before them; how many litres their vessels and receivers hold, by code."""

    runs: tuple[Run, ...]
    usual: Mapping[int, Usual]
    gauges: Gauges
    capacities: Mapping[str, float | None]

    def run_of(self, record: Record) -> Run | None:
        """The run of a record; None where it is not on."""
        return next((run for run in self.runs if run.record.pk == record.pk), None)


def runs_on() -> RunsOn:
    """Every run that is on. One question where nothing was written since it was last asked for, else ten."""
    return _as_far_as(so_far())


def with_run(record: Record) -> tuple[Run, RunsOn]:
    """The run of a record and what it is held against, whether it is on still or has just ended."""
    found = runs_on()
    run = found.run_of(record)
    if run is None:
        found = _of(runs_of([record]))
        run = found.runs[0]
    return run, found


@lru_cache(maxsize=1)
def _as_far_as(_written: tuple[object, ...]) -> RunsOn:
    return _of(all_running(), remembered=True)


def _of(runs: list[Run], *, remembered: bool = False) -> RunsOn:
    usual = _usual_remembered(runs) if remembered else usual_of(runs)
    all_of_them = [*runs, *(past for run in runs for past in usual[run.record.pk].runs)]
    if not runs:
        return RunsOn((), {}, {}, {})
    return RunsOn(tuple(runs), usual, gauges_of(all_of_them), capacities_of(runs))


@dataclass(frozen=True, slots=True)
class _Before:
    """What was usual of some runs, with which they were and how far the runs before them were written."""

    asked: tuple[object, ...]
    written: tuple[object, ...]
    usual: dict[int, Usual]


# The last one alone; another thread may put its own in the place of it at any time.
_before: list[_Before] = []


def _usual_remembered(runs: list[Run]) -> dict[int, Usual]:
    asked = tuple((run.record.pk, run.vessel, run.begun, run.product) for run in runs)
    kept = next(iter(_before), None)
    if kept is not None and kept.asked == asked and kept.written == _written_of(kept.usual):
        return kept.usual
    with as_at_one_moment():
        usual = usual_of(runs)
        _before[:] = [_Before(asked, _written_of(usual), usual)]
    return usual


def _written_of(usual: Mapping[int, Usual]) -> tuple[object, ...]:
    """Another one whenever anything that past runs were read from may be: a version or signature of any record, or a
    reading of theirs. Three queries."""
    version = Version.objects.order_by("-pk").values_list("digest", flat=True).first()
    signature = Signature.objects.order_by("-pk").values_list("pk", "at").first()
    past = {run.record.pk for one in usual.values() for run in one.runs}
    read = Reading.objects.filter(record__in=past).aggregate(newest=Max("pk"), at=Max("written_at"))
    return version, signature, *read.values()
