"""A cut that was made away from its plan: who made it shows who they are once more, and nobody is kept from writing it.

The plan is that on the sheet, else that of the last run that had one, else the middle of the last runs
(`Usual.planned`). How far from it is 'away' is a dated usual figure of the site.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Final

from batches.models import Record
from batches.running.before import Usual, usual_of
from batches.running.figures import STRENGTH, figure_of
from batches.running.runs import Run
from batches.sheets.declared import Event
from batches.sheets.sheet import Sheet
from distillery import figures
from distillery.clock.reading import site_day
from distillery.rules.in_force import usual_figure

AWAY_FROM_PLAN: Final = "cut away from its plan"


@dataclass(frozen=True, slots=True)
class OffPlan:
    """A cut at `made`, planned at `planned`, both in % vol with as many decimals as its field has."""

    label: str
    made: float
    planned: float
    decimals: int

    @property
    def sentence(self) -> str:
        """'Spirit off: the cut was made at 58.1 % and is planned at 62.0 %.'"""
        made, planned = figures.number(self.made, self.decimals), figures.number(self.planned, self.decimals)
        return f"{self.label}: the cut was made at {made} % and is planned at {planned} %."


def cuts_off_plan(
    sheet: Sheet, record: Record, typed: Mapping[str, str], stood: Mapping[str, str] | None = None
) -> list[OffPlan]:
    """The cuts among what is typed, in the order of the sheet, that are away from their plan; those left out that stand
    so on the record (`stood`), whose hands were asked as they were written.

    The record may be one that is not written yet, but must say when it began. At most four queries, and none where no
    cut is new or changed.
    """
    changed = [one for one in cuts_of(sheet) if typed.get(one.plan) and typed[one.plan] != (stood or {}).get(one.plan)]
    if sheet.running is None or not changed:
        return []
    run = Run(record, sheet, sheet.running, typed, 0, ())
    usual = usual_of([run]).get(record.pk, Usual())
    return off_plan(run, changed, usual, site_day(run.begun))


def cuts_of(sheet: Sheet) -> list[Event]:
    """The events of a sheet that bring a strength which is planned."""
    events = sheet.running.events if sheet.running is not None else ()
    return [one for one in events if one.plan and sheet.field(one.plan).unit == STRENGTH]


def off_plan(run: Run, cuts: Iterable[Event], usual: Usual, on: date) -> list[OffPlan]:
    """The cuts of a run that are further from their plan than the site's figure in force on that day; none where there
    is no plan, no such figure, or nothing that can be read.
    """
    limit = usual_figure(AWAY_FROM_PLAN, on)
    if limit is None or limit.expected is None:
        return []
    found = []
    for event in cuts:
        field = run.sheet.field(event.plan)
        made, planned = figure_of(field, run.typed.get(field.name, "")), usual.planned(run, event)
        # Both are typed to so many decimals: the same distance is never further by what a float leaves over.
        if made is not None and planned is not None and round(abs(made - planned), field.decimals) > limit.expected:
            found.append(OffPlan(event.label, made, planned, field.decimals))
    return found
