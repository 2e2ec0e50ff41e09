"""The last runs of the same vessel: how the quantity usually goes, at which strength a cut is usually made, and when.

Four queries for all runs that are on, however long the history: one finds for each how far back its twelfth run before
lies, one reads those runs, two what stands on them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from django.db.models import Exists, OuterRef, Q, Subquery

from batches.models import Mention, Record, State
from batches.running.figures import figure_of, middle, time_of
from batches.running.runs import Run, runs_of
from batches.sheets.declared import Event

RUNS = 12
# Of fewer runs nothing is said to be usual.
FEWEST = 3
STEPS_OF_BAND = 40


@dataclass(frozen=True, slots=True)
class Usual:
    """What the last runs of the same vessel came to."""

    runs: tuple[Run, ...] = field(default=())

    @property
    def enough(self) -> bool:
        """True where there are enough of them to call anything usual."""
        return len(self.runs) >= FEWEST

    def figure(self, name: str) -> float | None:
        """The middle of what was written in a field, in its own unit."""
        found = [figure_of(run.sheet.field(name), run.typed.get(name, "")) for run in self.runs]
        return middle([one for one in found if one is not None]) if self.enough else None

    def planned(self, run: Run, event: Event) -> float | None:
        """The plan of a figure that an event brings: as the run itself has it, as the last run that has one has it, or
        the middle of the last runs.
        """
        if event.planned:
            field = run.sheet.field(event.planned)
            for one in (run, *self.runs):
                value = figure_of(field, one.typed.get(event.planned, ""))
                if value is not None:
                    return value
        return self.figure(event.plan) if event.plan else None

    def after(self, event: Event) -> timedelta | None:
        """How long after its beginning a run usually came to an event."""
        found = [
            at - run.begun
            for run in self.runs
            if event.when and (at := time_of(run.sheet.field(event.when), run.typed.get(event.when, ""))) is not None
        ]
        return self._middle(found)

    @property
    def length(self) -> timedelta | None:
        """How long a run usually lasts."""
        return self._middle([run.record.happened_to - run.begun for run in self.runs if run.record.happened_to])

    @property
    def first_reading(self) -> timedelta | None:
        """How long after its beginning the first reading usually comes."""
        return self._middle([points[0].at - run.begun for run in self.runs if (points := run.points)])

    def _middle(self, found: Sequence[timedelta]) -> timedelta | None:
        seconds = middle([one.total_seconds() for one in found]) if self.enough and found else None
        return None if seconds is None else timedelta(seconds=round(seconds))

    def band(self) -> list[tuple[float, float, float]]:
        """Hours since the beginning, lowest and highest value there among the runs that were read before and after."""
        curves = self._curves()
        if not self.enough or len(curves) < FEWEST:
            return []
        start, end = min(curve[0][0] for curve in curves), max(curve[-1][0] for curve in curves)
        found = []
        for step in range(STEPS_OF_BAND + 1):
            hour = start + (end - start) * step / STEPS_OF_BAND
            values = [value for curve in curves if (value := value_at(curve, hour)) is not None]
            if len(values) >= FEWEST:
                found.append((hour, min(values), max(values)))
        return found

    def values_at(self, hour: float) -> list[float]:
        """What the quantity was so many hours after the beginning, of each run that was read before and after."""
        found = [value_at(curve, hour) for curve in self._curves()]
        return [one for one in found if one is not None]

    def _curves(self) -> list[list[tuple[float, float]]]:
        curves = [
            [((point.at - run.begun).total_seconds() / 3600, point.value) for point in run.points] for run in self.runs
        ]
        return [curve for curve in curves if len(curve) > 1]


def value_at(curve: Sequence[tuple[float, float]], hour: float) -> float | None:
    """The value on the straight line between the readings before and after an hour; None where one of them is not."""
    if not curve[0][0] <= hour <= curve[-1][0]:
        return None
    before = curve[0]
    for after in curve[1:]:
        if hour <= after[0]:
            if after[0] == before[0]:
                return after[1]
            return before[1] + (after[1] - before[1]) * (hour - before[0]) / (after[0] - before[0])
        before = after
    return before[1]


def usual_of(runs: Sequence[Run]) -> dict[int, Usual]:
    """The last runs of the same kind, vessel and product before each run, by the key of its record."""
    if not runs:
        return {}
    since = _how_far_back(runs)
    chosen = Q(pk__in=())
    for run in runs:
        one = _like(run) & Q(happened_from__lt=run.begun)
        chosen |= one & Q(happened_from__gte=since[run.record.pk]) if since.get(run.record.pk) else one
    past = runs_of(
        Record.objects.filter(chosen, state=State.COMPLETE).order_by("-happened_from", "-pk"), main_only=True
    )
    return {
        run.record.pk: Usual(
            tuple(
                one
                for one in past
                if one.sheet is run.sheet
                and run.vessel in ("", one.vessel)
                and one.begun < run.begun
                and one.product == run.product
            )[:RUNS]
        )
        for run in runs
    }


def _like(run: Run) -> Q:
    """Records of the same kind in the same vessel; where the sheet keeps none, of the same kind."""
    if not run.vessel:
        return Q(kind=run.record.kind)
    name = run.sheet.occupies or (run.sheet.works_in.vessel if run.sheet.works_in else "")
    there = Mention.objects.filter(record=OuterRef("pk"), what=Mention.What.VESSEL, code=run.vessel, field=name)
    return Q(Exists(there), kind=run.record.kind)


def _how_far_back(runs: Sequence[Run]) -> dict[int, datetime | None]:
    """When the twelfth run before each began; None where there were not so many. One query."""
    asked = [
        Record.objects.filter(_like(run), state=State.COMPLETE, happened_from__lt=run.begun)
        .order_by("-happened_from", "-pk")
        .values("happened_from")[RUNS - 1 : RUNS]
        for run in runs
    ]
    # Any row bears the answers; a run that is not written yet has none of its own.
    row = Record.objects.order_by("pk").values_list(*[Subquery(one) for one in asked]).first()
    return {run.record.pk: at for run, at in zip(runs, row or (), strict=False)}
